import { useId } from 'react';
import type { RecurrenceBoard } from '../client/generated/api.ts';
import {
  useChargeAccuracy,
  usePatterns,
  usePolicies,
  useRecordQuality,
  useRefrigerant,
  useReturnCosts,
  useShopReview,
  useWatches,
} from '../client/outcome-queries.ts';
import { useBoard, useMe, usePlatforms } from '../client/queries.ts';
import { Answered } from '../shell/answered.tsx';
import { Heads } from '../shell/heads.tsx';
import { address, goTo } from '../shell/route.ts';
import { count, day, decimal, inSentence, monthWords, percent, plural, said, signedPercent, words } from '../shell/words.ts';
import { INTENT_NAMES } from './intent.tsx';
import { monthBounds, monthOf } from './month-bounds.ts';
import { patternAddress } from './pair.ts';
import { shopName } from './shop-name.ts';
import { streamName, watchAddress } from './stream.ts';

const PATH = '/recurrences/month';

/** One month on one page, for the meeting: what rose, what stands out, and what the month's work cost and used. */
export function Month({ search }: { readonly search: URLSearchParams }) {
  const id = useId();
  const me = useMe();
  const month = monthOf(search.get('month'), new Date());
  const { since, until } = monthBounds(month);
  return (
    <article className="stack report">
      <div className="row spread">
        <div className="stack tight">
          <h1>{monthWords(month)}</h1>
          <p className="lead">
            {me.data?.organisationName ?? ''}: what came back, what is new, and what the month’s work cost. {day(since)} to the day before{' '}
            {day(until)}.
          </p>
        </div>
        <div className="filters no-print">
          <div className="field">
            <label htmlFor={id}>Month</label>
            <input
              id={id}
              type="month"
              value={month}
              onChange={({ target }) => {
                if (target.value !== '') goTo(address(PATH, { month: target.value }));
              }}
            />
          </div>
          <button type="button" className="primary" onClick={() => window.print()}>
            Print
          </button>
        </div>
      </div>
      <WhatIsNew since={since} until={until} />
      <StandsOut />
      <TheMonthsWork since={since} until={until} />
      <InForce />
      <p className="quiet">
        Figures are estimates with 95 % intervals; returns of the last months are still to come. Definitions stand on the page of each
        figure.
      </p>
    </article>
  );
}

interface Bounds {
  readonly since: string;
  readonly until: string;
}

function WhatIsNew({ since, until }: Bounds) {
  return (
    <section className="sheet stack" aria-label="What is new">
      <h2>What is new this month</h2>
      <Answered query={useWatches({ include: 'alarms' })} what="the watches">
        {(board) => {
          const alarms = board.watches.flatMap((stream) =>
            stream.alarms.filter(({ week }) => week >= since && week < until).map((alarm) => ({ stream, alarm })),
          );
          return (
            <>
              {alarms.length === 0 ? (
                <p>
                  {board.scoredAt === null
                    ? 'The streams have not been looked at yet.'
                    : `No alarm in ${plural(board.streams, 'watched stream')}.`}
                </p>
              ) : (
                <ul className="bullets">
                  {alarms.map(({ stream, alarm }) => (
                    <li key={`${streamName(stream)} ${alarm.week}`}>
                      <a href={watchAddress(stream)}>{streamName(stream)}</a>: {alarm.observed} seen since {day(alarm.since)},{' '}
                      {decimal(alarm.expected)} expected, {decimal(alarm.ratio)} times ({decimal(alarm.low)} to {decimal(alarm.high)}).
                    </li>
                  ))}
                </ul>
              )}
              <small>
                With nothing happening, {decimal(board.falseAlarmsPerYear)} false alarm a year over all streams together is to be expected.
              </small>
            </>
          );
        }}
      </Answered>
    </section>
  );
}

const STANDING = { clock: 'degree-days', minimumEpisodes: 5, first: 6 } as const;

function StandsOut() {
  return (
    <section className="sheet stack" aria-label="What stands out">
      <h2>What stands out, as of today</h2>
      <Answered query={useBoard({ ...STANDING, only: 'above-elsewhere' })} what="the recurrences">
        {(worse) => (worse.lines.length > 0 ? <Outstanding board={worse} title="Worse than the same repair elsewhere" /> : <Surest />)}
      </Answered>
      <Answered query={usePatterns({ include: 'found' })} what="the patterns">
        {({ patterns }) => (
          <ul className="bullets">
            {patterns
              .filter(({ verdict }) => verdict === 'replicated')
              .slice(0, 5)
              .map((one) => (
                <li key={`${one.cause} ${one.effect}`}>
                  <a href={patternAddress(one)}>
                    {words(one.effect)} after {inSentence(one.cause)}
                  </a>
                  : {said(one.message)}
                  {one.doubtful ? ' It may be one fault seen twice.' : ''}
                </li>
              ))}
          </ul>
        )}
      </Answered>
      <Answered query={useShopReview({})} what="the shops">
        {({ shops, message }) => (
          <div className="stack tight">
            <p>
              <a href="#/recurrences/shops">Shops</a>: {message}
            </p>
            <ul className="bullets">
              {shops
                .filter(({ verdict }) => verdict === 'above')
                .map((shop, i) => (
                  <li key={shop.shopId ?? i}>
                    {shopName(shop)}: {said(shop.message)}
                  </li>
                ))}
            </ul>
          </div>
        )}
      </Answered>
    </section>
  );
}

function Surest() {
  return (
    <Answered query={useBoard(STANDING)} what="the recurrences">
      {(board) =>
        board.lines.length > 0 ? <Outstanding board={board} title="The surest returns" /> : <p>No line has enough repairs yet.</p>
      }
    </Answered>
  );
}

function Outstanding({ board, title }: { readonly board: RecurrenceBoard; readonly title: string }) {
  return (
    <div className="table-wrap">
      <table>
        <caption>
          {title}: chance to be back within {count(board.horizon)} degree-days.
        </caption>
        <Heads
          of={[
            ['Platform and fault'],
            ['Repair'],
            ['Chance (interval)', 'number'],
            ['Elsewhere', 'number'],
            ['Repairs', 'number'],
            ['Returns', 'number'],
            ['Last 30 days', 'number'],
          ]}
        />
        <tbody>
          {board.lines.map((line) => (
            <tr key={`${line.platformId} ${line.fault} ${line.intent}`}>
              <th scope="row">
                <a href={address('/recurrences/line', { platform: line.platformId, fault: line.fault, intent: line.intent })}>
                  {line.platformName}: {inSentence(line.fault)}
                </a>
              </th>
              <td>{INTENT_NAMES[line.intent]}</td>
              <td className="number">
                {percent(line.probability)} ({percent(line.low)} to {percent(line.high)})
              </td>
              <td className="number">{line.elsewhere === null ? '–' : percent(line.elsewhere)}</td>
              <td className="number">{count(line.episodes)}</td>
              <td className="number">{count(line.returns)}</td>
              <td className="number">{count(line.newThisMonth)}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}

function TheMonthsWork({ since, until }: Bounds) {
  return (
    <section className="sheet stack" aria-label="The month’s work">
      <h2>The month’s work</h2>
      <dl className="facts">
        <dt>
          <a href={address('/recurrences/records', { since, until })}>Evidence</a>
        </dt>
        <dd>
          <Answered query={useRecordQuality({ since, until })} what="the evidence">
            {({ message }) => <>{message}</>}
          </Answered>
        </dd>
        <dt>
          <a href={address('/recurrences/charge', { since, until })}>Charge</a>
        </dt>
        <dd>
          <Answered query={useChargeAccuracy({ since, until })} what="the charges">
            {({ message, lines }) => (
              <>
                {message}{' '}
                {lines
                  .filter(({ meanError, low, high }) => meanError !== null && low !== null && high !== null && (low > 0 || high < 0))
                  .map((line) => `${shopName(line)} ${signedPercent(line.meanError!)}`)
                  .join(', ')}
              </>
            )}
          </Answered>
        </dd>
        <dt>
          <a href={address('/recurrences/refrigerant', { since, until })}>Refrigerant</a>
        </dt>
        <dd>
          <Answered query={useRefrigerant({ since, until })} what="the refrigerant">
            {({ message, lines, assessment }) => (
              <>
                {message} Net {decimal(lines.reduce((sum, { co2eKg }) => sum + (co2eKg ?? 0), 0) / 1000)} t of CO₂ equivalent ({assessment}
                ).
              </>
            )}
          </Answered>
        </dd>
        <dt>
          <a href={address('/recurrences/costs', { since, until })}>Costs of returns</a>
        </dt>
        <dd>
          <Answered query={useReturnCosts({ since, until })} what="the costs">
            {({ message, lines }) => (
              <>
                {message} {sums(lines)}
              </>
            )}
          </Answered>
        </dd>
      </dl>
    </section>
  );
}

/** Work done again in each currency; different ones are never added up. */
function sums(lines: readonly { readonly currency: string; readonly work: number }[]): string {
  const by = new Map<string, number>();
  for (const { currency, work } of lines) by.set(currency, (by.get(currency) ?? 0) + work);
  return by.size === 0 ? '' : `Work done again: ${[...by].map(([currency, work]) => `${count(work)} ${currency}`).join(', ')}.`;
}

function InForce() {
  const platforms = usePlatforms();
  return (
    <section className="sheet stack" aria-label="Policies in force">
      <h2>Policies in force</h2>
      <Answered query={usePolicies({ state: 'in-force' })} what="the policies">
        {({ data }) =>
          data.length === 0 ? (
            <p>None.</p>
          ) : (
            <ul className="bullets">
              {data.map((policy) => (
                <li key={policy.id}>
                  <a href={address('/recurrences/policies', { policy: policy.id })}>
                    {policy.rule === 'forbid' ? 'Not' : 'Only'}: {inSentence(policy.action)}
                  </a>
                  , {platforms.data?.find(({ id }) => id === policy.platformId)?.name ?? '…'}: {inSentence(policy.fault)}, since{' '}
                  {day(policy.since)}
                </li>
              ))}
            </ul>
          )
        }
      </Answered>
    </section>
  );
}
