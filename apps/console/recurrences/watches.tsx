import { useEffect, useRef } from 'react';
import type { WatchBoard, WatchQuestion, WatchState, WatchStream } from '../client/generated/api.ts';
import { faultCodeValues, watchIncludeValues, watchKindValues } from '../client/generated/api.ts';
import { useWatches } from '../client/outcome-queries.ts';
import { Answered } from '../shell/answered.tsx';
import { Choice } from '../shell/choice.tsx';
import { downloadCsv } from '../shell/csv.ts';
import { type LongColumn, LongTable } from '../shell/long-table.tsx';
import { address, goTo } from '../shell/route.ts';
import { Nothing } from '../shell/states.tsx';
import { count, day, decimal, inSentence, moment, percent, plural, said } from '../shell/words.ts';
import { behindAddress } from './behind.tsx';
import { FAULTS, known } from './filters.tsx';
import { Fineprint } from './fineprint.tsx';
import { ScoreAgain } from './score-again.tsx';
import { Stale } from './stale.tsx';
import { KIND_NAMES, streamName } from './stream.ts';
import { WatchChart } from './watch-chart.tsx';

const PATH = '/recurrences/watches';
const INCLUDES = [
  ['alarms', 'alarms'],
  ['rising', 'alarms and rising'],
  ['all', 'every stream'],
] as const;
const STATES: Readonly<Record<WatchState, string>> = { alarm: 'Alarm', rising: 'Rising', quiet: 'Quiet' };

/** What has risen beyond its exposure of late, and how often such an alarm is false. */
export function Watches({ search }: { readonly search: URLSearchParams }) {
  const include = known(search.get('include'), watchIncludeValues) ?? 'rising';
  const only = known(search.get('only'), faultCodeValues);
  const question: WatchQuestion = { include, ...(only ? { fault: only } : {}) };
  const query = useWatches(question);
  const change = (part: Record<string, string>) => goTo(address(PATH, { ...Object.fromEntries(search), ...part }));
  return (
    <div className="stack">
      <div className="board-head">
        <div>
          <h1>What is new</h1>
          <p className="lead">
            {query.data?.scoredAt ? said(query.data.message) : 'Faults and returns beyond what their exposure explains.'}
          </p>
        </div>
        <div className="filters no-print">
          <Choice label="Fault" value={only ?? ''} options={FAULTS} none="every fault" change={(value) => change({ only: value })} />
          <Choice label="Show" value={include} options={INCLUDES} none={null} change={(value) => change({ include: value })} />
        </div>
      </div>
      <Answered query={query} what="the watches">
        {(board) => <WatchesOf board={board} search={search} />}
      </Answered>
    </div>
  );
}

function WatchesOf({ board, search }: { readonly board: WatchBoard; readonly search: URLSearchParams }) {
  const platform = search.get('platform');
  const fault = search.get('fault');
  const kind = known(search.get('kind'), watchKindValues);
  // A stream that was opened from a long list stands above it.
  const opened = `${platform} ${fault} ${kind}`;
  const before = useRef(opened);
  useEffect(() => {
    if (before.current !== opened) window.scrollTo(0, 0);
    before.current = opened;
  }, [opened]);
  const chosen =
    board.watches.find((one) => one.platformId === platform && one.fault === fault && one.kind === kind) ??
    (platform === null ? board.watches[0] : undefined);
  if (board.verdict !== 'watched' || board.scoredAt === null) {
    return (
      <>
        <Nothing title={board.verdict === 'never' ? 'The streams have not been looked at yet.' : 'There is not enough to watch yet.'}>
          {board.verdict === 'never'
            ? 'The worker counts each platform’s faults and returns by the week and holds them against their exposure.'
            : said(board.message)}
          <ScoreAgain subject="watches" />
        </Nothing>
        <Fineprint cautions={board.cautions} definitions={board.definitions} />
      </>
    );
  }
  const chart = chosen ? (
    <section className="sheet stack" aria-label={`Chart of ${streamName(chosen)}`}>
      <WatchChart key={`${chosen.platformId} ${chosen.fault} ${chosen.kind}`} stream={chosen} />
      <Alarms stream={chosen} />
    </section>
  ) : null;
  return (
    <>
      {platform === null ? null : chart}
      <section className="sheet stack" aria-label="Streams">
        <div className="row spread">
          <p>
            <strong>
              {plural(board.streams, 'stream')} watched, {board.alarms} with an alarm.
            </strong>{' '}
            When nothing happens at all, {decimal(board.falseAlarmsPerYear)} alarm{board.falseAlarmsPerYear === 1 ? '' : 's'} a year is to
            be expected over all of them together. The charts are tuned to see {decimal(board.ratio)} times the usual rate. Looked at{' '}
            {moment(board.scoredAt)}; {percent(board.linkedShare)} of the repairs are on cars that can be followed.
          </p>
          <div className="row no-print">
            <ScoreAgain subject="watches" />
            <button type="button" onClick={() => saveWatches(board)}>
              CSV
            </button>
          </div>
        </div>
        <Stale isStale={board.isStale} />
        {board.watches.length === 0 ? (
          <Nothing title="Nothing has risen.">
            No stream is on its way to an alarm. <a href={address(PATH, { include: 'all' })}>See every stream</a>.
          </Nothing>
        ) : (
          <LongTable
            className="chooser"
            caption="Alarms first, then by how far on the way; open one for its chart."
            rows={board.watches}
            rowKey={(one) => `${one.platformId} ${one.fault} ${one.kind}`}
            rowHeight={37}
            columns={columnsOf(search)}
          />
        )}
      </section>
      {platform === null ? chart : null}
      <Fineprint cautions={board.cautions} definitions={board.definitions} />
    </>
  );
}

const columnsOf = (search: URLSearchParams): readonly LongColumn<WatchStream>[] => [
  {
    key: 'stream',
    head: 'Platform and fault',
    kind: 'head',
    cell: (one) => (
      <a href={address(PATH, { ...Object.fromEntries(search), platform: one.platformId, fault: one.fault, kind: one.kind })}>
        {one.platformName} · {inSentence(one.fault)}
      </a>
    ),
  },
  { key: 'kind', head: 'Stream', cell: (one) => KIND_NAMES[one.kind] },
  {
    key: 'state',
    head: 'State',
    cell: (one) => (one.state === 'alarm' ? <span className="flag">{STATES[one.state]}</span> : STATES[one.state]),
  },
  { key: 'since', head: 'Rose from', cell: (one) => (one.alarms[0] ? day(one.alarms[0].since) : '–') },
  { key: 'seen', head: 'Seen this year', kind: 'number', cell: (one) => count(one.observed) },
  { key: 'expected', head: 'Expected', kind: 'number', cell: (one) => decimal(one.expected) },
  { key: 'way', head: 'Way to an alarm', kind: 'number', cell: (one) => percent(Math.min(1, one.statistic / one.threshold)) },
  { key: 'shops', head: 'Shops', kind: 'number', cell: (one) => one.shops },
];

const buildWords = (year: number, thousands: number) => `${year}, sequence ${count(thousands * 1_000)}`;

function Alarms({ stream }: { readonly stream: WatchStream }) {
  const { modelYears, buildRange, alarms, fault, platformId, casesBehind } = stream;
  return (
    <div className="stack">
      {modelYears === null ? null : (
        <p>
          The events lie thickest in model years {modelYears.firstYear} to {modelYears.lastYear}: {modelYears.events} where{' '}
          {decimal(modelYears.expected)} were to be expected, {decimal(modelYears.ratio)} times (p{' '}
          {modelYears.pValue < 0.001 ? 'under 0.001' : decimal(modelYears.pValue)}).
        </p>
      )}
      {buildRange === null ? null : (
        <p>
          Among builds of plant {buildRange.plant} they lie thickest from {buildWords(buildRange.firstYear, buildRange.firstSequence)} to{' '}
          {buildWords(buildRange.lastYear, buildRange.lastSequence)}: {buildRange.events} where {decimal(buildRange.expected)} were to be
          expected, {decimal(buildRange.ratio)} times (p {buildRange.pValue < 0.001 ? 'under 0.001' : decimal(buildRange.pValue)}, all
          plants looked at together).
        </p>
      )}
      <p>
        <a href={behindAddress(casesBehind)}>{alarms.length === 0 ? 'What happened in the watched year' : 'What happened since it rose'}</a>
      </p>
      <ul className="bullets">
        {alarms.map((alarm) => (
          <li key={alarm.week}>
            Alarm in the week of {day(alarm.week)}, risen from {day(alarm.since)}: {alarm.observed} seen, {decimal(alarm.expected)}{' '}
            expected, {decimal(alarm.ratio)} times (95 % {decimal(alarm.low)} to {decimal(alarm.high)}).{' '}
            <a href={address('/recurrences/cases', { fault, platform: platformId, since: alarm.since })}>Its cases</a>
          </li>
        ))}
      </ul>
    </div>
  );
}

function saveWatches({ watches }: WatchBoard): void {
  downloadCsv(
    'watches',
    ['kind', 'platform', 'fault', 'state', 'risen from', 'observed', 'expected', 'statistic', 'threshold', 'shops', 'borrowed'],
    watches.map((one) => [
      one.kind,
      one.platformCode,
      one.fault,
      one.state,
      one.alarms[0]?.since ?? null,
      one.observed,
      one.expected,
      one.statistic,
      one.threshold,
      one.shops,
      one.borrowed,
    ]),
  );
}
