import { scaleLinear } from 'd3-scale';
import { useKeyUsage } from '../client/feed-queries.ts';
import type { KeyUsage, UsageOfKey } from '../client/generated/api.ts';
import { AxisAcross, AxisUp } from '../plots/axes.tsx';
import { Figure } from '../plots/figure.tsx';
import { Answered } from '../shell/answered.tsx';
import { type LongColumn, LongTable } from '../shell/long-table.tsx';
import { Nothing } from '../shell/states.tsx';
import { count, day, plural } from '../shell/words.ts';

const WIDTH = 1080;
const LEFT = 66;
const RIGHT = 18;
const TOP = 12;
const PLOT = 150;
const DAY_MS = 86_400_000;

/** How much the keys asked for in the last thirty days. */
export function Usage() {
  return (
    <Answered query={useKeyUsage()} what="the use of keys">
      {(usage) =>
        usage.keys.length === 0 ? (
          <section className="sheet stack" aria-label="Use of keys">
            <h2>Use in the last thirty days</h2>
            <Nothing title="No request is counted yet.">
              Requests appear here within seconds of being answered: look again in a moment.
            </Nothing>
          </section>
        ) : (
          <UsageOf usage={usage} />
        )
      }
    </Answered>
  );
}

function UsageOf({ usage }: { readonly usage: KeyUsage }) {
  const days = daysOf(usage);
  return (
    <section className="sheet stack" aria-label="Use of keys">
      <UsageByDay days={days} isOwnOnly={usage.isOwnOnly} />
      <LongTable
        caption={`${plural(usage.keys.length, 'key')}, the busiest first.${usage.left === 0 ? '' : ` ${plural(usage.left, 'key')} more were used less.`}`}
        rows={usage.keys}
        rowKey={({ keyId }) => keyId}
        rowHeight={37}
        columns={COLUMNS}
      />
      <ul className="bullets quiet">
        {usage.cautions.map((one) => (
          <li key={one}>{one}</li>
        ))}
      </ul>
    </section>
  );
}

const COLUMNS: readonly LongColumn<UsageOfKey>[] = [
  {
    key: 'key',
    head: 'Key',
    kind: 'head',
    cell: ({ name, hint }) => (
      <>
        {name} <code>…{hint}</code>
      </>
    ),
  },
  { key: 'requests', head: 'Requests', kind: 'number', cell: ({ requests }) => count(requests) },
  {
    key: 'refused',
    head: 'Of these refused',
    kind: 'number',
    cell: ({ refused }) => (refused === 0 ? '–' : <span className="flag">{count(refused)}</span>),
  },
  { key: 'rows', head: 'Rows of files', kind: 'number', cell: ({ rows }) => (rows === 0 ? '–' : count(rows)) },
  { key: 'days', head: 'Days with any', kind: 'number', cell: ({ days }) => count(days.length) },
  { key: 'last', head: 'Last such day', cell: ({ days }) => day(days.at(-1)!.day) },
];

interface DaySum {
  readonly day: string;
  readonly requests: number;
  readonly refused: number;
  readonly rows: number;
}

/** All keys together, every day of the period, also those without any use. */
function daysOf({ since, until, keys }: KeyUsage): readonly DaySum[] {
  const sums = new Map<string, DaySum>();
  for (let at = Date.parse(since); at < Date.parse(until); at += DAY_MS) {
    const one = new Date(at).toISOString().slice(0, 10);
    sums.set(one, { day: one, requests: 0, refused: 0, rows: 0 });
  }
  for (const one of keys.flatMap(({ days }) => days)) {
    const before = sums.get(one.day)!;
    sums.set(one.day, {
      day: one.day,
      requests: before.requests + one.requests,
      refused: before.refused + one.refused,
      rows: before.rows + one.rows,
    });
  }
  return [...sums.values()];
}

function UsageByDay({ days, isOwnOnly }: { readonly days: readonly DaySum[]; readonly isOwnOnly: boolean }) {
  const x = scaleLinear()
    .domain([0, days.length])
    .range([LEFT, WIDTH - RIGHT]);
  const y = scaleLinear()
    .domain([0, Math.max(5, ...days.map(({ requests }) => requests))])
    .nice(4)
    .range([TOP + PLOT, TOP]);
  const bar = (x(1) - x(0)) * 0.64;
  return (
    <Figure
      title="Use in the last thirty days"
      words={`Requests a day (UTC), ${isOwnOnly ? 'of this key' : 'all keys together'}; the darker part was refused. Counts, not estimates.`}
      file="use-of-keys"
      width={WIDTH}
      height={TOP + PLOT + 48}
      columns={[{ name: 'day' }, { name: 'requests' }, { name: 'refused' }, { name: 'rows of files' }]}
      rows={days.map((one) => [one.day, one.requests, one.refused, one.rows])}
      points={days.map(
        (one) => `${day(one.day)}: ${plural(one.requests, 'request')}, ${count(one.refused)} refused; ${plural(one.rows, 'row')} of files.`,
      )}
      first={days.length - 1}
    >
      {(chosen, choose) => (
        <>
          <AxisUp scale={y} ticks={y.ticks(4)} show={count} label="requests" x={LEFT} top={TOP} bottom={TOP + PLOT} to={WIDTH - RIGHT} />
          {days.map(({ day: one, requests, refused }, i) => (
            <g key={one} className="permanent" onPointerEnter={() => choose(i)}>
              <rect x={x(i)} width={x(i + 1) - x(i)} y={TOP} height={PLOT} fill={i === chosen ? 'var(--pine-wash)' : 'transparent'} />
              <rect
                x={x(i + 0.5) - bar / 2}
                width={bar}
                y={y(requests)}
                height={TOP + PLOT - y(requests)}
                fill="currentColor"
                fillOpacity="0.45"
              />
              <rect x={x(i + 0.5) - bar / 2} width={bar} y={y(refused)} height={TOP + PLOT - y(refused)} fill="currentColor" />
            </g>
          ))}
          <AxisAcross
            scale={(i) => x(i + 0.5)}
            ticks={days.map((_, i) => i).filter((i) => (days.length - 1 - i) % 5 === 0)}
            show={(i) => day(days[i]!.day).replace(/ \d{4}$/, '')}
            label="day"
            from={LEFT}
            to={WIDTH - RIGHT}
            y={TOP + PLOT}
          />
        </>
      )}
    </Figure>
  );
}
