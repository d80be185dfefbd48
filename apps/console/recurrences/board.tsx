import { useMutation } from '@tanstack/react-query';
import { useMemo } from 'react';
import type { BoardQuestion, Clock, FaultCode, RecurrenceBoard, RecurrenceLine, RepairIntent } from '../client/generated/api.ts';
import { clockValues, faultCodeValues, repairIntentValues } from '../client/generated/api.ts';
import { everyLine, useBoardPages } from '../client/queries.ts';
import { Choice } from '../shell/choice.tsx';
import { downloadCsv } from '../shell/csv.ts';
import { type LongColumn, LongTable } from '../shell/long-table.tsx';
import { address, goTo } from '../shell/route.ts';
import { Nothing, Refused, Waiting } from '../shell/states.tsx';
import { count, day, inSentence, percent, plural } from '../shell/words.ts';
import { CLOCK_NAMES, clockPart, horizonWords } from './clock.ts';
import { FAULTS, known } from './filters.tsx';
import { Fineprint } from './fineprint.tsx';
import { Glance, lineAddress } from './glance.tsx';
import { IntentChoice } from './group-choices.tsx';
import { Intent } from './intent.tsx';
import { IntervalBar, IntervalScale } from './interval-bar.tsx';

const MINIMA = [5, 10, 20, 50];

/** Which faults come back on which platforms, after which kind of repair. The address holds the filters. */
export function Board({ search }: { readonly search: URLSearchParams }) {
  const fault = known(search.get('fault'), faultCodeValues);
  const intent = known(search.get('intent'), repairIntentValues);
  const clock = known(search.get('clock'), clockValues) ?? 'degree-days';
  const minimum = MINIMA.find((one) => String(one) === search.get('minimum')) ?? 5;
  const ofFault: BoardQuestion = { clock, ...(fault ? { fault } : {}), minimumEpisodes: minimum };
  const question: BoardQuestion = { ...ofFault, ...(intent ? { intent } : {}) };
  const pages = useBoardPages(question);
  const board = pages.data?.pages[0];
  const change = (part: Record<string, string>) =>
    goTo(
      address('/recurrences', {
        fault,
        intent,
        clock: clockPart(clock),
        minimum: minimum === 5 ? '' : minimum,
        ...part,
      }),
    );
  return (
    <div className="stack">
      <div className="board-head">
        <div>
          <h1>What comes back</h1>
          {board ? <BoardLead board={board} /> : null}
        </div>
        <div className="filters">
          <Filters fault={fault} intent={intent} clock={clock} minimum={minimum} change={change} />
          {board && board.total > 0 ? <TakeAlong board={board} question={question} /> : null}
        </div>
      </div>
      {pages.error ? (
        <Refused error={pages.error} what="the recurrences" again={() => pages.refetch()} />
      ) : board ? (
        <>
          {board.total > 0 ? <Glance question={ofFault} clock={clock} /> : null}
          <Lines pages={pages} clock={clock} filtered={fault !== undefined || intent !== undefined || minimum > MINIMA[0]!} />
          <Fineprint cautions={board.cautions} definitions={[...board.definitions, ...OWN_DEFINITIONS]} />
        </>
      ) : (
        <Waiting what="the recurrences" />
      )}
    </div>
  );
}

/** All lines as CSV, those too that are not on the page yet. */
function TakeAlong({ board, question }: { readonly board: RecurrenceBoard; readonly question: BoardQuestion }) {
  const taking = useMutation({ mutationFn: () => everyLine(question), onSuccess: (lines) => saveBoard(lines, board) });
  return (
    <>
      <button type="button" className="no-print" disabled={taking.isPending} onClick={() => taking.mutate()}>
        CSV
      </button>
      {taking.error ? <Refused error={taking.error} what="the lines" again={() => taking.mutate()} /> : null}
    </>
  );
}

function BoardLead({ board }: { readonly board: RecurrenceBoard }) {
  return (
    <p className="lead">
      Chance to be back within {horizonWords(board.clock, board.horizon)}; {count(board.episodes)} repairs, {percent(board.linkedShare)} on
      cars that can be followed. {day(board.asOf)}.
    </p>
  );
}

interface FilterProps {
  readonly fault: FaultCode | undefined;
  readonly intent: RepairIntent | undefined;
  readonly clock: Clock;
  readonly minimum: number;
  readonly change: (part: Record<string, string>) => void;
}

function Filters({ fault, intent, clock, minimum, change }: FilterProps) {
  return (
    <>
      <Choice label="Fault" value={fault ?? ''} options={FAULTS} none="every fault" change={(value) => change({ fault: value })} />
      <IntentChoice value={intent} change={(value) => change({ intent: value })} />
      <Choice label="Clock" value={clock} options={CLOCK_NAMES} none={null} change={(value) => change({ clock: value })} />
      <Choice
        label="At least"
        value={String(minimum)}
        options={MINIMA.map((n) => [String(n), `${n} repairs`] as const)}
        none={null}
        change={(value) => change({ minimum: value })}
      />
    </>
  );
}

interface LinesProps {
  readonly pages: ReturnType<typeof useBoardPages>;
  readonly clock: Clock;
  readonly filtered: boolean;
}

function Lines({ pages, clock, filtered }: LinesProps) {
  const { data, hasNextPage, isFetchingNextPage, fetchNextPage } = pages;
  const lines = useMemo(() => data?.pages.flatMap((page) => page.lines) ?? [], [data]);
  const columns = useMemo(() => columnsOf(clock), [clock]);
  const board = data?.pages[0];
  if (board === undefined || board.total === 0) {
    return board?.episodes === 0 && !filtered ? (
      <Nothing title="No repairs are recorded yet.">
        Record repairs on cases, or push orders with their repairs from your own software: <a href="#/feeds">how to push</a>.
      </Nothing>
    ) : (
      <Nothing title="No line has enough repairs.">
        Ask for fewer repairs a line, or <a href="#/recurrences">take every filter off</a>.
      </Nothing>
    );
  }
  return (
    <LongTable
      className="board"
      caption={`${plural(board.total, 'line')}, the surest returns first. The dashed mark is the same repair on the other platforms.`}
      rows={lines}
      total={board.total}
      rowKey={(line) => `${line.platformId} ${line.fault} ${line.intent}`}
      rowHeight={37}
      columns={columns}
      more={{ has: hasNextPage, fetching: isFetchingNextPage, fetch: fetchNextPage }}
    />
  );
}

const OWN_DEFINITIONS = [
  'Borrowed: the share of a figure that comes from the platform’s family, from the fault and from the kind of repair elsewhere, because the line has few repairs of its own.',
  'Elsewhere: the mean of the figures of the other platforms for the same fault and kind of repair, weighted by their repairs.',
  'Last 30 days: returns that came in during the last 30 days.',
];

const columnsOf = (clock: Clock): readonly LongColumn<RecurrenceLine>[] => [
  {
    key: 'line',
    head: 'Platform and fault',
    kind: 'head',
    cell: (line) => (
      <a href={lineAddress(line, clock)}>
        {line.platformName} · {inSentence(line.fault)}
      </a>
    ),
  },
  { key: 'intent', head: 'Repair', cell: (line) => <Intent intent={line.intent} /> },
  {
    key: 'bar',
    kind: 'bar',
    head: (
      <>
        Chance of a return
        <IntervalScale sparse />
      </>
    ),
    cell: (line) => <IntervalBar {...line} />,
  },
  {
    key: 'chance',
    kind: 'number',
    head: (
      <>
        Chance
        <br />
        (interval)
      </>
    ),
    cell: (line) => (
      <>
        <strong>{percent(line.probability)}</strong>{' '}
        <span className="quiet">
          ({(100 * line.low).toFixed(0)}–{(100 * line.high).toFixed(0)})
        </span>
      </>
    ),
  },
  {
    key: 'returns',
    kind: 'number',
    head: (
      <>
        Returns
        <br />
        of repairs
      </>
    ),
    cell: (line) => `${count(line.returns)} of ${count(line.episodes)}`,
  },
  { key: 'shops', kind: 'number', head: 'Shops', cell: (line) => line.shops },
  { key: 'borrowed', kind: 'number', head: 'Borrowed', cell: (line) => percent(line.borrowed) },
  {
    key: 'new',
    kind: 'number',
    head: (
      <>
        Last
        <br />
        30 days
      </>
    ),
    cell: (line) => (line.newThisMonth === 0 ? '–' : <span className="flag">{line.newThisMonth} new</span>),
  },
];

function saveBoard(lines: readonly RecurrenceLine[], board: RecurrenceBoard): void {
  downloadCsv(
    `recurrences-${board.asOf}`,
    [
      'platform',
      'name',
      'family',
      'fault',
      'repair',
      'clock',
      'horizon',
      'probability',
      'low',
      'high',
      'observed',
      'elsewhere',
      'repairs',
      'returns',
      'shops',
      'borrowed',
      'last 30 days',
    ],
    lines.map((line) => [
      line.platformCode,
      line.platformName,
      line.family,
      line.fault,
      line.intent,
      board.clock,
      board.horizon,
      line.probability,
      line.low,
      line.high,
      line.observed,
      line.elsewhere,
      line.episodes,
      line.returns,
      line.shops,
      line.borrowed,
      line.newThisMonth,
    ]),
  );
}
