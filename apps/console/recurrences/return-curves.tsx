import { useId, useRef, useState } from 'react';
import type { Clock, RepairIntent, ReturnAnswer } from '../client/generated/api.ts';
import { savePicture } from '../plots/picture.ts';
import { count, percent, said } from '../shell/words.ts';
import { CLOCK_UNITS, horizonWords } from './clock.ts';
import { INTENT_NAMES, IntentShape } from './intent.tsx';

export interface Series {
  readonly intent: RepairIntent;
  readonly answer: ReturnAnswer;
}

const WIDTH = 760;
const LEFT = 118;
const RIGHT = 18;
const TOP = 14;
const PLOT = 340;
const FIRST_READ: Readonly<Record<Clock, number>> = { 'degree-days': 500, 'calendar-days': 180, distance: 10_000 };
const DASHES: Readonly<Record<RepairIntent, string>> = { temporary: '7 4', permanent: 'none', unknown: '2 3' };

/** Steps of a readable size: about five of them up to `max`. */
export function ticksUpTo(max: number): number[] {
  const rough = max / 5;
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 2.5, 5, 10].map((one) => one * power).find((one) => one >= rough)!;
  return Array.from({ length: Math.floor(max / step + 1e-9) + 1 }, (_, i) => i * step);
}

/** The last point of a curve at or before a time: cumulative incidence holds its value until the next event. */
export function pointAt(answer: ReturnAnswer, time: number): ReturnAnswer['curve'][number] | null {
  let found: ReturnAnswer['curve'][number] | null = null;
  for (const point of answer.curve) {
    if (point.at > time) break;
    found = point;
  }
  return found;
}

interface Props {
  readonly series: readonly Series[];
  readonly clock: Clock;
  /** Of the file a picture is saved as. */
  readonly name: string;
}

/** Share of repairs that came back, over time, with the 95 % band and the numbers still followed beneath. Both scales are linear from zero. */
export function ReturnCurves({ series, clock, name }: Props) {
  const id = useId();
  const drawing = useRef<SVGSVGElement>(null);
  const drawn = series.filter(({ answer }) => answer.curve.length > 0);
  const end = Math.max(...drawn.map(({ answer }) => answer.curve.at(-1)!.at));
  const [time, setTime] = useState(Math.min(FIRST_READ[clock], end));
  const weighted = drawn.flatMap(({ intent, answer }) =>
    answer.linkageWeighted.flatMap((one) => (one.weighted === null || one.at > end ? [] : [{ intent, at: one.at, share: one.weighted }])),
  );
  const top = Math.max(
    ...drawn.flatMap(({ answer }) => answer.curve.map(({ high, atRisk }) => (atRisk > 0 ? high : 0))),
    ...weighted.map(({ share }) => share),
    0.1,
  );
  const yTop = [0.1, 0.25, 0.5, 1].find((one) => one >= top) ?? 1;
  const x = (at: number) => LEFT + ((WIDTH - LEFT - RIGHT) * at) / end;
  const y = (share: number) => TOP + PLOT * (1 - share / yTop);
  const ticks = ticksUpTo(end);
  const unit = `${CLOCK_UNITS[clock].full} after the repair`;
  const height = TOP + PLOT + 64 + 22 * drawn.length;
  return (
    <figure className="plot stack">
      <div className="legend">
        {drawn.map(({ intent, answer }) => (
          <span key={intent} className={`intent ${intent}`}>
            <svg width="34" height="14" viewBox="-17 -7 34 14" aria-hidden="true">
              <line x1="-17" x2="17" stroke="currentColor" strokeWidth="2.5" strokeDasharray={DASHES[intent]} />
              <IntentShape intent={intent} />
            </svg>
            {INTENT_NAMES[intent]}: {count(answer.episodes)} repairs, {count(answer.returns)} returns
          </span>
        ))}
        {weighted.length === 0 ? null : (
          <span className="intent">
            <svg className="hollow" width="14" height="14" viewBox="-7 -7 14 14" aria-hidden="true">
              <IntentShape intent="temporary" />
            </svg>
            hollow: if all returns were seen
          </span>
        )}
      </div>
      <svg ref={drawing} viewBox={`0 0 ${WIDTH} ${height}`} role="img" aria-labelledby={`${id}-name`}>
        <title id={`${id}-name`}>{drawn.map(({ intent, answer }) => `${INTENT_NAMES[intent]}: ${said(answer.message)}`).join(' ')}</title>
        {[0, 0.25, 0.5, 0.75, 1].map((part) => (
          <g key={part}>
            <line className="grid" x1={LEFT} x2={WIDTH - RIGHT} y1={y(part * yTop)} y2={y(part * yTop)} />
            <text className="soft" x={LEFT - 8} y={y(part * yTop) + 4} textAnchor="end">
              {percent(part * yTop)}
            </text>
          </g>
        ))}
        <text className="soft" transform={`translate(${LEFT - 66} ${TOP + PLOT / 2}) rotate(-90)`} textAnchor="middle">
          repairs that came back, %
        </text>
        {ticks.map((at) => (
          <g key={at}>
            <line className="axis" x1={x(at)} x2={x(at)} y1={TOP + PLOT} y2={TOP + PLOT + 5} />
            <text className="soft" x={x(at)} y={TOP + PLOT + 19} textAnchor="middle">
              {count(at)}
            </text>
          </g>
        ))}
        <line className="axis" x1={LEFT} x2={WIDTH - RIGHT} y1={TOP + PLOT} y2={TOP + PLOT} />
        <text className="soft" x={(LEFT + WIDTH - RIGHT) / 2} y={TOP + PLOT + 37} textAnchor="middle">
          {unit}
        </text>
        {drawn.map(({ intent, answer }) => (
          <g key={intent} className={intent}>
            <path d={bandPath(answer, x, y, yTop)} fill="currentColor" fillOpacity="0.16" />
            <path d={stepPath(answer, x, y)} fill="none" stroke="currentColor" strokeWidth="2.5" strokeDasharray={DASHES[intent]} />
          </g>
        ))}
        {weighted.map(({ intent, at, share }) => (
          <g key={`${intent} ${at}`} className={`${intent} hollow`} transform={`translate(${x(at)} ${y(share)})`}>
            <IntentShape intent={intent} />
          </g>
        ))}
        <line x1={x(time)} x2={x(time)} y1={TOP} y2={TOP + PLOT} stroke="var(--ink)" strokeDasharray="1 4" />
        {drawn.map(({ intent, answer }) => {
          const point = pointAt(answer, time);
          return point ? (
            <g key={intent} className={intent} transform={`translate(${x(time)} ${y(point.probability)})`}>
              <IntentShape intent={intent} />
            </g>
          ) : null;
        })}
        <text className="soft" x="0" y={TOP + PLOT + 56}>
          still followed
        </text>
        {drawn.map(({ intent, answer }, row) => (
          <g key={intent} className={intent}>
            <text x="0" y={TOP + PLOT + 76 + 22 * row}>
              {INTENT_NAMES[intent]}
            </text>
            {ticks.map((at) => (
              <text key={at} x={x(at)} y={TOP + PLOT + 76 + 22 * row} textAnchor="middle">
                {riskAt(answer, at)}
              </text>
            ))}
          </g>
        ))}
      </svg>
      <div className="read-off">
        <label htmlFor={`${id}-time`}>Read off at</label>
        <input
          id={`${id}-time`}
          type="range"
          min="0"
          max={Math.floor(end)}
          step={end > 5_000 ? 250 : end > 200 ? 10 : 1}
          value={time}
          onChange={({ target }) => setTime(Number(target.value))}
        />
        <output htmlFor={`${id}-time`}>
          {horizonWords(clock, time)}:{' '}
          {drawn
            .map(({ intent, answer }) => {
              const point = pointAt(answer, time);
              return point
                ? `${INTENT_NAMES[intent]} ${percent(point.probability)} (${percent(point.low)} to ${percent(point.high)}), ${count(point.atRisk)} still followed`
                : null;
            })
            .filter((part) => part !== null)
            .join('; ')}
        </output>
      </div>
      <p className="no-print">
        <button type="button" className="small" onClick={() => savePicture(drawing.current!, `returns-${name}`)}>
          PNG of the curves
        </button>
      </p>
    </figure>
  );
}

const riskAt = (answer: ReturnAnswer, at: number) => (at === 0 ? answer.episodes : (pointAt(answer, at)?.atRisk ?? 0));

type Scale = (value: number) => number;

function stepPath(answer: ReturnAnswer, x: Scale, y: Scale): string {
  return answer.curve.map(({ at, probability }, i) => (i === 0 ? `M${x(at)} ${y(probability)}` : `H${x(at)}V${y(probability)}`)).join('');
}

function bandPath({ curve }: ReturnAnswer, x: Scale, y: Scale, yTop: number): string {
  const upper = curve.map(({ at, high }, i) => (i === 0 ? `M${x(at)} ${y(high)}` : `H${x(at)}V${y(Math.min(high, yTop))}`));
  const lower: string[] = [];
  for (let i = curve.length - 1; i >= 0; i--) {
    const { at, low } = curve[i]!;
    lower.push(i === curve.length - 1 ? `V${y(low)}` : `V${y(low)}H${x(at)}`);
  }
  return `${upper.join('')}${lower.join('')}Z`;
}
