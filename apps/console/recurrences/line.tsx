import type { Clock, ComparisonAnswer, EpisodeGroup, FaultCode, RepairIntent, ReturnAnswer } from '../client/generated/api.ts';
import { clockValues, faultCodeValues, repairIntentValues } from '../client/generated/api.ts';
import { useComparison, usePlatforms } from '../client/queries.ts';
import { Choice } from '../shell/choice.tsx';
import { downloadCsv } from '../shell/csv.ts';
import { Heads } from '../shell/heads.tsx';
import { address, goTo } from '../shell/route.ts';
import { Nothing, Refused, Waiting } from '../shell/states.tsx';
import { count, inSentence, percent, plural, said } from '../shell/words.ts';
import { CLOCK_NAMES, CLOCK_UNITS } from './clock.ts';
import { ClockWords } from './clock-words.tsx';
import { Episodes } from './episodes.tsx';
import { known } from './filters.tsx';
import { Fineprint } from './fineprint.tsx';
import { INTENT_NAMES, Intent } from './intent.tsx';
import { PlatformForest } from './platform-forest.tsx';
import { ReturnCurves, type Series } from './return-curves.tsx';

/** One line of the board: how its repairs held over time, the other kind of repair beside it, and the cases behind both. */
export function Line({ search }: { readonly search: URLSearchParams }) {
  const platformId = search.get('platform');
  const fault = known(search.get('fault'), faultCodeValues);
  const intent = known(search.get('intent'), repairIntentValues);
  if (platformId === null || fault === undefined || intent === undefined) {
    return (
      <div className="stack">
        <h1>Recurrences</h1>
        <Nothing title="This address names no line.">
          <a href="#/recurrences">Go to the board</a> and open one.
        </Nothing>
      </div>
    );
  }
  return <LineOf platformId={platformId} fault={fault} intent={intent} clock={known(search.get('clock'), clockValues) ?? 'degree-days'} />;
}

interface Props {
  readonly platformId: string;
  readonly fault: FaultCode;
  readonly intent: RepairIntent;
  readonly clock: Clock;
}

function LineOf({ platformId, fault, intent, clock }: Props) {
  const platforms = usePlatforms();
  const platform = platforms.data?.find(({ id }) => id === platformId);
  const other: RepairIntent = intent === 'permanent' ? 'temporary' : 'permanent';
  const group = (one: RepairIntent): EpisodeGroup => ({ platformId, fault, intent: one });
  const comparison = useComparison({ a: group(intent), b: group(other), clock });
  const here = (parts: { intent?: RepairIntent; clock?: string }) =>
    address('/recurrences/line', { platform: platformId, fault, intent: parts.intent ?? intent, clock: parts.clock ?? clock });
  return (
    <div className="stack">
      <p className="no-print">
        <a href={address('/recurrences', { fault })}>All platforms with this fault</a> · <a href="#/recurrences">the whole board</a>
      </p>
      <div className="row spread">
        <h1>
          {platform?.name ?? 'Platform'}: {inSentence(fault)}, {INTENT_NAMES[intent]}
        </h1>
        <div className="filters no-print">
          <a className="button" href={address('/recurrences/policies', { platform: platformId, fault })}>
            Set a policy
          </a>
          <a className="button" href={here({ intent: other })}>
            Turn to the {INTENT_NAMES[other]}
          </a>
          <Choice label="Clock" value={clock} options={CLOCK_NAMES} none={null} change={(value) => goTo(here({ clock: value }))} />
        </div>
      </div>
      {comparison.error ? (
        <Refused error={comparison.error} what="these repairs" again={() => comparison.refetch()} />
      ) : comparison.data ? (
        <Compared answer={comparison.data} intent={intent} other={other} clock={clock} name={`${platform?.code ?? 'platform'}-${fault}`} />
      ) : (
        <Waiting what="the return curves" />
      )}
      <PlatformForest fault={fault} intent={intent} clock={clock} here={platformId} />
      <Episodes group={group(intent)} name={`${platform?.code ?? 'platform'}-${fault}-${intent}`} />
    </div>
  );
}

interface ComparedProps {
  readonly answer: ComparisonAnswer;
  readonly intent: RepairIntent;
  readonly other: RepairIntent;
  readonly clock: Clock;
  readonly name: string;
}

function Compared({ answer, intent, other, clock, name }: ComparedProps) {
  const series: readonly Series[] = [
    { intent, answer: answer.a },
    { intent: other, answer: answer.b },
  ];
  const estimated = series.filter(({ answer: one }) => one.curve.length > 0);
  const inBoth = answer.a.cautions.filter((one) => answer.b.cautions.includes(one));
  const cautions = [
    ...inBoth,
    ...series.flatMap(({ intent: kind, answer: its }) =>
      its.cautions.filter((one) => !inBoth.includes(one)).map((one) => `${capital(INTENT_NAMES[kind])}: ${one}`),
    ),
  ];
  const fineprint = <Fineprint cautions={cautions} definitions={[...answer.a.definitions, FOLLOWED, WEIGHTED]} />;
  return (
    <>
      {estimated.length === 0 ? (
        <>
          <Nothing title="There are not enough repairs for a curve.">
            {said(answer.a.message)} The board borrows from the family meanwhile; the repairs that are known stand below.
          </Nothing>
          {fineprint}
        </>
      ) : (
        <div className="beside">
          <div className="stack">
            <section className="sheet" aria-label="Return curves">
              <ReturnCurves key={clock} series={estimated} clock={clock} name={name} />
            </section>
            {fineprint}
          </div>
          <section className="sheet stack" aria-label="The same in numbers">
            <h2>In numbers</h2>
            <p>{said(answer.message)}</p>
            <ClockWords answer={answer.a} />
            {series.map(({ intent: one, answer: its }) => (
              <Numbers key={one} intent={one} answer={its} clock={clock} />
            ))}
            <p className="no-print">
              <button type="button" onClick={() => saveCurves(series, clock, name)}>
                CSV of the curves
              </button>
            </p>
          </section>
        </div>
      )}
    </>
  );
}

const FOLLOWED = 'Still followed: repairs that neither came back nor ended otherwise before that time, and whose car was still around.';
const WEIGHTED =
  'If all were seen: the share that came back weighted for returns that were not linked, from cars that can be followed. The figure beside it is a lower bound. Hollow marks on the curves; a dash where it cannot be told.';

function Numbers({ intent, answer, clock }: { readonly intent: RepairIntent; readonly answer: ReturnAnswer; readonly clock: Clock }) {
  const unit = CLOCK_UNITS[clock].short;
  const weighted = new Map(answer.linkageWeighted.map((one) => [one.at, one.weighted]));
  return (
    <div className="stack">
      <h3>
        <Intent intent={intent} />
      </h3>
      <p className="quiet">
        {plural(answer.episodes, 'repair')} on {plural(answer.vehicles, 'car')} at {plural(answer.shops, 'shop')};{' '}
        {answer.ends.map(({ end, count: n }) => `${count(n)} ${inSentence(end)}`).join(', ') || 'none yet'}.
        {answer.median === null ? '' : ` Half are back after ${count(answer.median)} ${unit}.`}
      </p>
      {answer.verdict === 'not-enough' ? (
        <p>{said(answer.message)}</p>
      ) : (
        <div className="table-wrap">
          <table className="tight">
            <Heads
              of={[
                [
                  <>
                    Within, <br /> {unit}
                  </>,
                ],
                [
                  <>
                    Came back <br /> (95 % interval)
                  </>,
                  'number',
                ],
                [
                  <>
                    If all <br /> were <br /> seen
                  </>,
                  'number',
                ],
                ['Followed', 'number'],
              ]}
            />
            <tbody>
              {answer.horizons.map(({ at, probability, low, high, atRisk }) => (
                <tr key={at}>
                  <th scope="row">{count(at)}</th>
                  <td className="number">
                    <strong>{percent(probability)}</strong>{' '}
                    <span className="quiet">
                      ({(100 * low).toFixed(0)}–{(100 * high).toFixed(0)})
                    </span>
                  </td>
                  <td className="number">{shareOrNone(weighted.get(at))}</td>
                  <td className="number">{count(atRisk)}</td>
                </tr>
              ))}
            </tbody>
          </table>
        </div>
      )}
    </div>
  );
}

const capital = (text: string) => text.charAt(0).toUpperCase() + text.slice(1);
const shareOrNone = (share: number | null | undefined) => (share === null || share === undefined ? '–' : percent(share));

function saveCurves(series: readonly Series[], clock: Clock, name: string): void {
  downloadCsv(
    `returns-${name}`,
    ['repair', 'clock', 'at', 'probability', 'low', 'high', 'still followed'],
    series.flatMap(({ intent, answer }) =>
      answer.curve.map(({ at, probability, low, high, atRisk }) => [INTENT_NAMES[intent], clock, at, probability, low, high, atRisk]),
    ),
  );
}
