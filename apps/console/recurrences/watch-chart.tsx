import { scaleLinear } from 'd3-scale';
import type { WatchStream } from '../client/generated/api.ts';
import { AxisAcross, AxisUp } from '../plots/axes.tsx';
import { Figure } from '../plots/figure.tsx';
import { count, day, decimal, percent, said } from '../shell/words.ts';
import { streamName } from './stream.ts';

const WIDTH = 1080;
const LEFT = 66;
const RIGHT = 18;
const TOP = 16;
const COUNTS = 170;
const BETWEEN = 30;
const CHART = 130;

/** Events by the week against their expectation, and beneath it the chart that adds up what is beyond, with the height at which it alarms. */
export function WatchChart({ stream }: { readonly stream: WatchStream }) {
  const { weeks, threshold, alarms } = stream;
  const x = scaleLinear()
    .domain([0, Math.max(1, weeks.length)])
    .range([LEFT, WIDTH - RIGHT]);
  const y = scaleLinear()
    .domain([0, Math.max(1, ...weeks.map(({ count: n, expected }) => Math.max(n, expected)))])
    .nice(4)
    .range([TOP + COUNTS, TOP]);
  const below = TOP + COUNTS + BETWEEN;
  const z = scaleLinear()
    .domain([0, Math.max(threshold * 1.15, ...weeks.map(({ statistic }) => statistic))])
    .nice(3)
    .range([below + CHART, below]);
  const ticks = weeks.map((_, i) => i).filter((i) => i % 8 === 0);
  const alarmed = new Set(alarms.map(({ week }) => week));
  const path = (at: (i: number) => number) => weeks.map((_, i) => `${i === 0 ? 'M' : 'L'}${x(i + 0.5)} ${at(i)}`).join('');
  return (
    <Figure
      title={streamName(stream)}
      words={`${said(stream.message)} ${count(stream.observed)} events in the watched year where ${decimal(stream.expected)} were to be expected; the expectation stands on ${count(stream.baselineEvents)} events before, ${percent(stream.borrowed)} of it borrowed from other platforms.`}
      file={`watch-${stream.platformCode}-${stream.fault}-${stream.kind}`}
      width={WIDTH}
      height={below + CHART + 48}
      columns={[
        { name: 'week from' },
        { name: 'events' },
        { name: 'expected', show: decimal },
        { name: 'chart', show: decimal },
        { name: 'alarms at', show: decimal },
      ]}
      rows={weeks.map(({ week, count: n, expected, statistic }) => [week, n, expected, statistic, threshold])}
      points={weeks.map(
        ({ week, count: n, expected, statistic }) =>
          `Week of ${day(week)}: ${count(n)} seen, ${decimal(expected)} expected; chart at ${decimal(statistic)} of ${decimal(threshold)}.`,
      )}
      first={weeks.length - 1}
      legend={
        <div className="legend">
          <Key name="events in the week">
            <rect x="9" y="1" width="12" height="12" fill="var(--pine)" fillOpacity="0.62" />
          </Key>
          <Key name="expected">
            <line x1="0" x2="30" y1="7" y2="7" stroke="var(--permanent)" strokeWidth="2.5" strokeDasharray="7 4" />
          </Key>
          <Key name="chart">
            <line x1="0" x2="30" y1="7" y2="7" stroke="var(--temporary)" strokeWidth="2.5" />
          </Key>
          <Key name="height of an alarm">
            <line x1="0" x2="30" y1="7" y2="7" stroke="var(--ink)" strokeWidth="1.5" strokeDasharray="4 3" />
          </Key>
          <Key name="alarm">
            <path d="M15 0 22 13H8Z" fill="var(--stop-ink)" />
          </Key>
        </div>
      }
    >
      {(chosen, choose) => (
        <>
          <AxisUp
            scale={y}
            ticks={y.ticks(4).filter(Number.isInteger)}
            show={count}
            label="events a week"
            x={LEFT}
            top={TOP}
            bottom={TOP + COUNTS}
            to={WIDTH - RIGHT}
          />
          <AxisUp
            scale={z}
            ticks={z.ticks(3)}
            show={decimal}
            label="chart"
            x={LEFT}
            top={below}
            bottom={below + CHART}
            to={WIDTH - RIGHT}
          />
          {weeks.map(({ week, count: n }, i) => (
            <g key={week} onPointerEnter={() => choose(i)}>
              <rect
                x={x(i)}
                width={x(i + 1) - x(i)}
                y={TOP}
                height={below + CHART - TOP}
                fill={i === chosen ? 'var(--pine-wash)' : 'transparent'}
                fillOpacity="0.8"
              />
              <rect
                x={x(i) + 2}
                width={Math.max(1, x(i + 1) - x(i) - 4)}
                y={y(n)}
                height={TOP + COUNTS - y(n)}
                fill="var(--pine)"
                fillOpacity={i === chosen ? 1 : 0.62}
              />
            </g>
          ))}
          <path d={path((i) => y(weeks[i]!.expected))} fill="none" stroke="var(--permanent)" strokeWidth="2.5" strokeDasharray="7 4" />
          <path d={path((i) => z(weeks[i]!.statistic))} fill="none" stroke="var(--temporary)" strokeWidth="2.5" />
          <line
            x1={LEFT}
            x2={WIDTH - RIGHT}
            y1={z(threshold)}
            y2={z(threshold)}
            stroke="var(--ink)"
            strokeWidth="1.5"
            strokeDasharray="4 3"
          />
          {weeks.map(({ week }, i) =>
            alarmed.has(week) ? (
              <path key={week} transform={`translate(${x(i + 0.5)} ${below - 8})`} d="M0-7 7 6H-7Z" fill="var(--stop-ink)" />
            ) : null,
          )}
          <line className="axis" x1={LEFT} x2={WIDTH - RIGHT} y1={TOP + COUNTS} y2={TOP + COUNTS} />
          <AxisAcross
            scale={(i) => x(i)}
            ticks={ticks}
            show={(i) => day(weeks[i]!.week)}
            label="week, by its first day"
            from={LEFT}
            to={WIDTH - RIGHT}
            y={below + CHART}
          />
        </>
      )}
    </Figure>
  );
}

function Key({ name, children }: { readonly name: string; readonly children: React.ReactNode }) {
  return (
    <span className="intent">
      <svg width="30" height="14" aria-hidden="true">
        {children}
      </svg>
      {name}
    </span>
  );
}
