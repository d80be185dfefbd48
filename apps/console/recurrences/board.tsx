import { useState } from 'react';
import type { BoardQuestion, Clock, FaultCode, RecurrenceBoard, RepairIntent } from '../client/generated/api.ts';
import { clockValues, faultCodeValues, repairIntentValues } from '../client/generated/api.ts';
import { useBoard } from '../client/queries.ts';
import { Choice } from '../shell/choice.tsx';
import { downloadCsv } from '../shell/csv.ts';
import { address, goTo } from '../shell/route.ts';
import { Nothing, Refused, Waiting } from '../shell/states.tsx';
import { count, day, inSentence, percent, plural } from '../shell/words.ts';
import { type Compared, compared, standingOut } from './elsewhere.ts';
import { Fineprint } from './fineprint.tsx';
import { INTENT_NAMES, Intent } from './intent.tsx';
import { IntervalBar, IntervalScale } from './interval-bar.tsx';

export const CLOCK_NAMES = [
  ['degree-days', 'heat run through'],
  ['calendar-days', 'calendar'],
] as const satisfies readonly (readonly [Clock, string])[];
const MINIMA = [5, 10, 20, 50];
const FIRST_ROWS = 60;

const known = <T extends string>(value: string | null, values: readonly T[]): T | undefined => values.find((one) => one === value);

/** Which faults come back on which platforms, after which kind of repair. The address holds the filters. */
export function Board({ search }: { readonly search: URLSearchParams }) {
  const fault = known(search.get('fault'), faultCodeValues);
  const intent = known(search.get('intent'), repairIntentValues);
  const clock = known(search.get('clock'), clockValues) ?? 'degree-days';
  const minimum = MINIMA.find((one) => String(one) === search.get('minimum')) ?? 5;
  const question: BoardQuestion = { clock, ...(fault ? { fault } : {}), minimumEpisodes: minimum };
  const board = useBoard(question);
  const change = (part: Record<string, string>) =>
    goTo(
      address('/recurrences', {
        fault,
        intent,
        clock: clock === 'degree-days' ? '' : clock,
        minimum: minimum === 5 ? '' : minimum,
        ...part,
      }),
    );
  return (
    <div className="stack">
      <div className="board-head">
        <div>
          <h1>What comes back</h1>
          {board.data ? <BoardLead board={board.data} /> : null}
        </div>
        <Filters fault={fault} intent={intent} clock={clock} minimum={minimum} change={change} />
      </div>
      {board.error ? (
        <Refused error={board.error} what="the recurrences" again={() => board.refetch()} />
      ) : board.data ? (
        <Lines
          board={board.data}
          intent={intent}
          clock={clock}
          filtered={fault !== undefined || intent !== undefined || minimum > MINIMA[0]!}
        />
      ) : (
        <Waiting what="the recurrences" />
      )}
    </div>
  );
}

export const horizonWords = (clock: Clock, horizon: number) =>
  `${count(horizon)} ${clock === 'degree-days' ? 'cooling degree-days' : 'days'}`;

function BoardLead({ board }: { readonly board: RecurrenceBoard }) {
  return (
    <p className="lead">
      Chance that a repair is back within {horizonWords(board.clock, board.horizon)}; {count(board.episodes)} repairs,{' '}
      {percent(board.linkedShare)} on cars that can be followed, as of {day(board.asOf)}.
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
    <div className="filters">
      <Choice
        label="Fault"
        value={fault ?? ''}
        options={faultCodeValues.filter((code) => code !== 'healthy').map((code) => [code, inSentence(code)] as const)}
        none="every fault"
        change={(value) => change({ fault: value })}
      />
      <Choice
        label="Repair"
        value={intent ?? ''}
        options={repairIntentValues.map((code) => [code, INTENT_NAMES[code]] as const)}
        none="every kind"
        change={(value) => change({ intent: value })}
      />
      <Choice label="Clock" value={clock} options={CLOCK_NAMES} none={null} change={(value) => change({ clock: value })} />
      <Choice
        label="At least"
        value={String(minimum)}
        options={MINIMA.map((n) => [String(n), `${n} repairs`] as const)}
        none={null}
        change={(value) => change({ minimum: value })}
      />
    </div>
  );
}

const lineAddress = ({ line }: Compared, clock: Clock) =>
  address('/recurrences/line', {
    platform: line.platformId,
    fault: line.fault,
    intent: line.intent,
    clock: clock === 'degree-days' ? '' : clock,
  });

interface LinesProps {
  readonly board: RecurrenceBoard;
  readonly intent: RepairIntent | undefined;
  readonly clock: Clock;
  readonly filtered: boolean;
}

function Lines({ board, intent, clock, filtered }: LinesProps) {
  const [all, showAll] = useState(false);
  const lines = compared(board.lines).filter(({ line }) => intent === undefined || line.intent === intent);
  if (lines.length === 0) {
    return board.episodes === 0 && !filtered ? (
      <Nothing title="No repairs are recorded yet.">
        Record repairs on cases, or push orders with their repairs from your own software: <a href="#/feeds">how to push</a>.
      </Nothing>
    ) : (
      <Nothing title="No line has enough repairs.">
        Ask for fewer repairs a line, or <a href="#/recurrences">take every filter off</a>.
      </Nothing>
    );
  }
  const outstanding = standingOut(lines).slice(0, 3);
  return (
    <>
      <div className="row spread board-bar">
        <nav className="stands" aria-label="Lines that stand out">
          {outstanding.length === 0 ? null : <strong>Worse than elsewhere:</strong>}
          {outstanding.map((one) => (
            <a key={`${one.line.platformId} ${one.line.fault} ${one.line.intent}`} href={lineAddress(one, clock)}>
              {one.line.platformName} · {inSentence(one.line.fault)} <Intent intent={one.line.intent} />
            </a>
          ))}
        </nav>
        <button type="button" className="no-print" onClick={() => saveBoard(lines, board)}>
          CSV
        </button>
      </div>
      <div className="table-wrap">
        <table className="board">
          <caption>
            {plural(lines.length, 'line')}, the surest returns first. The dashed mark is the same repair on the other platforms.
          </caption>
          <thead>
            <tr>
              <th scope="col">Platform and fault</th>
              <th scope="col">Repair</th>
              <th scope="col" className="bar">
                Chance of a return
                <IntervalScale />
              </th>
              <th scope="col" className="number">
                Chance
                <br />
                (interval)
              </th>
              <th scope="col" className="number">
                Repairs
              </th>
              <th scope="col" className="number">
                Returns
              </th>
              <th scope="col" className="number">
                Shops
              </th>
              <th scope="col" className="number">
                Borrowed
              </th>
              <th scope="col" className="number">
                Last
                <br />
                30 days
              </th>
            </tr>
          </thead>
          <tbody>
            {(all ? lines : lines.slice(0, FIRST_ROWS)).map((one) => (
              <Row key={`${one.line.platformId} ${one.line.fault} ${one.line.intent}`} one={one} clock={clock} />
            ))}
          </tbody>
        </table>
      </div>
      {!all && lines.length > FIRST_ROWS ? (
        <p>
          <button type="button" onClick={() => showAll(true)}>
            Show all {lines.length} lines
          </button>
        </p>
      ) : null}
      <Fineprint cautions={board.cautions} definitions={[...board.definitions, ...OWN_DEFINITIONS]} />
    </>
  );
}

const OWN_DEFINITIONS = [
  'Borrowed: the share of a figure that comes from the platform’s family, from the fault and from the kind of repair elsewhere, because the line has few repairs of its own.',
  'Elsewhere: the mean of the figures of the other platforms for the same fault and kind of repair, weighted by their repairs.',
  'Last 30 days: returns that came in during the last 30 days.',
];

function Row({ one, clock }: { readonly one: Compared; readonly clock: Clock }) {
  const { line, elsewhere } = one;
  return (
    <tr>
      <th scope="row">
        <a href={lineAddress(one, clock)}>
          {line.platformName} · {inSentence(line.fault)}
        </a>
      </th>
      <td>
        <Intent intent={line.intent} />
      </td>
      <td className="bar">
        <IntervalBar {...line} elsewhere={elsewhere} />
      </td>
      <td className="number">
        <strong>{percent(line.probability)}</strong>{' '}
        <span className="quiet">
          ({(100 * line.low).toFixed(0)}–{(100 * line.high).toFixed(0)})
        </span>
      </td>
      <td className="number">{count(line.episodes)}</td>
      <td className="number">{count(line.returns)}</td>
      <td className="number">{line.shops}</td>
      <td className="number">{percent(line.borrowed)}</td>
      <td className="number">{line.newThisMonth === 0 ? '–' : <span className="flag">{line.newThisMonth} new</span>}</td>
    </tr>
  );
}

function saveBoard(lines: readonly Compared[], board: RecurrenceBoard): void {
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
    lines.map(({ line, elsewhere }) => [
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
      elsewhere,
      line.episodes,
      line.returns,
      line.shops,
      line.borrowed,
      line.newThisMonth,
    ]),
  );
}
