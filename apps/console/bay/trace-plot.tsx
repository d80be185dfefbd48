import { useId } from 'react';
import type { PressureTrace, TracePicture } from '../client/generated/api.ts';
import { ticksUpTo } from '../recurrences/return-curves.tsx';
import { percent, words } from '../shell/words.ts';
import { inTraceUnit, unitName } from './quantities.ts';
import type { Sample } from './trace.ts';

const WIDE = 640;
const BOX = { left: 58, right: 14, top: 14, height: 190 } as const;
const COLUMNS = 320;

interface Props {
  readonly samples: readonly Sample[];
  readonly unit: string;
  readonly name: string;
  readonly picture: TracePicture | null;
  readonly narrow?: boolean;
}

/** A pressure over time, both scales linear; what was found in it is drawn over it. */
export function TracePlot({ samples, unit, name, picture, narrow = false }: Props) {
  const id = useId();
  const width = narrow ? 400 : WIDE;
  const sorted = [...samples].sort((a, b) => a.second - b.second);
  const end = sorted.at(-1)!.second - sorted[0]!.second || 1;
  const values = sorted.map(({ value }) => value);
  const floor = Math.min(0, ...values);
  const top = Math.max(...values, floor + 1e-6);
  const step = ticksUpTo(top - floor || 1);
  const high = floor + step.at(-1)! < top ? floor + step.at(-1)! + step[1]! : floor + step.at(-1)!;
  const x = (second: number) => BOX.left + ((second - sorted[0]!.second) / end) * (width - BOX.left - BOX.right);
  const y = (value: number) => BOX.top + BOX.height * (1 - (value - floor) / (high - floor));
  const minutes = end > 180;
  const times = ticksUpTo(minutes ? end / 60 : end);
  const level = (pa: number) => y(inTraceUnit(pa, unit));
  return (
    <figure className="plot">
      <svg viewBox={`0 0 ${width} ${BOX.top + BOX.height + 44}`} role="img" aria-labelledby={id}>
        <title
          id={id}
        >{`${name} over ${end.toFixed(0)} seconds, from ${Math.min(...values)} to ${Math.max(...values)} ${unitName(unit)}.`}</title>
        {step.map((value) => (
          <g key={value}>
            <line className="grid" x1={BOX.left} x2={width - BOX.right} y1={y(floor + value)} y2={y(floor + value)} />
            <text className="soft" x={BOX.left - 8} y={y(floor + value) + 4} textAnchor="end">
              {Number((floor + value).toFixed(2))}
            </text>
          </g>
        ))}
        {times.map((time) => (
          <g key={time}>
            <line
              className="axis"
              x1={x(sorted[0]!.second + (minutes ? 60 * time : time))}
              x2={x(sorted[0]!.second + (minutes ? 60 * time : time))}
              y1={BOX.top + BOX.height}
              y2={BOX.top + BOX.height + 5}
            />
            <text
              className="soft"
              x={x(sorted[0]!.second + (minutes ? 60 * time : time))}
              y={BOX.top + BOX.height + 18}
              textAnchor="middle"
            >
              {time}
            </text>
          </g>
        ))}
        <line className="axis" x1={BOX.left} x2={width - BOX.right} y1={BOX.top + BOX.height} y2={BOX.top + BOX.height} />
        <text className="soft" x={(BOX.left + width - BOX.right) / 2} y={BOX.top + BOX.height + 36} textAnchor="middle">
          {minutes ? 'minutes' : 'seconds'}
        </text>
        <text className="soft" transform={`translate(12 ${BOX.top + BOX.height / 2}) rotate(-90)`} textAnchor="middle">
          {name}, {unitName(unit)}
        </text>
        {picture?.cycling ? (
          <rect
            x={BOX.left}
            width={width - BOX.left - BOX.right}
            y={level(picture.cycling.highPa)}
            height={Math.max(level(picture.cycling.lowPa) - level(picture.cycling.highPa), 0)}
            fill="var(--pine)"
            fillOpacity="0.12"
          />
        ) : null}
        {picture === null || picture.settledPa === null ? null : (
          <line
            x1={BOX.left}
            x2={width - BOX.right}
            y1={level(picture.settledPa)}
            y2={level(picture.settledPa)}
            stroke="var(--ink)"
            strokeWidth="1.5"
            strokeDasharray="6 4"
          />
        )}
        <path d={pathOf(sorted, x, y)} fill="none" stroke="var(--pine)" strokeWidth="2" strokeLinejoin="round" />
      </svg>
    </figure>
  );
}

/** No more points than can be seen: of each column of the plot the lowest and the highest, so that no swing is lost. */
function pathOf(samples: readonly Sample[], x: (second: number) => number, y: (value: number) => number): string {
  const shown: Sample[] = [];
  const size = Math.max(1, Math.ceil(samples.length / COLUMNS));
  for (let i = 0; i < samples.length; i += size) {
    const column = samples.slice(i, i + size);
    const low = column.reduce((a, b) => (b.value < a.value ? b : a));
    const high = column.reduce((a, b) => (b.value > a.value ? b : a));
    shown.push(...(low === high ? [low] : low.second < high.second ? [low, high] : [high, low]));
  }
  return shown.map(({ second, value }, i) => `${i === 0 ? 'M' : 'L'}${x(second).toFixed(1)} ${y(value).toFixed(1)}`).join('');
}

interface AnswerProps {
  readonly traces: readonly PressureTrace[];
  readonly pictures: readonly TracePicture[];
}

/** The traces with what was found in them: pull-down, settled value, cycling. */
export function TraceAnswer({ traces, pictures }: AnswerProps) {
  if (traces.length === 0) return null;
  return (
    <section className="sheet stack" aria-label="Pressure over time">
      <h2>Pressure over time</h2>
      {traces.map((trace, i) => {
        const picture = pictures.find((one) => one.trace === i) ?? null;
        return (
          <div className="stack" key={`${trace.place} ${i === 0 ? 'first' : i}`}>
            <TracePlot samples={trace.samples} unit={trace.unit} name={words(trace.place)} picture={picture} />
            {picture ? (
              <TraceNumbers picture={picture} unit={trace.unit} />
            ) : (
              <p className="quiet">Too short to be judged: a minute and eight samples at least.</p>
            )}
          </div>
        );
      })}
    </section>
  );
}

function TraceNumbers({ picture: { pullDown, settledPa, cycling }, unit }: { readonly picture: TracePicture; readonly unit: string }) {
  const text = (pa: number) => `${inTraceUnit(pa, unit).toFixed(unit === 'bar' ? 1 : 0)} ${unitName(unit)}`;
  const facts: (readonly [string, string])[] = [
    [
      'Pull-down',
      pullDown
        ? `${text(pullDown.fallPa)} fall, ${text(pullDown.paPerMinute)} a minute over ${pullDown.seconds.toFixed(0)} s`
        : 'none seen',
    ],
    [cycling ? 'Mean while cycling' : 'Settled at', settledPa === null ? 'not settled: read it for longer' : text(settledPa)],
    ['Cycling', cycling ? `every ${cycling.periodSeconds.toFixed(0)} s, ${text(cycling.lowPa)} to ${text(cycling.highPa)}` : 'not seen'],
    ...(cycling ? [['Compressor on', `${percent(cycling.duty)} of the time, over ${cycling.cycles} cycles`] as const] : []),
  ];
  return (
    <dl className="facts">
      {facts.map(([name, value]) => (
        <div key={name} className="fact">
          <dt>{name}</dt>
          <dd>{value}</dd>
        </div>
      ))}
    </dl>
  );
}
