import { scaleLinear } from 'd3-scale';
import type { RecurringPattern } from '../client/generated/api.ts';
import { AxisAcross, AxisUp } from '../plots/axes.tsx';
import { Figure } from '../plots/figure.tsx';
import { count, inSentence, plural } from '../shell/words.ts';

const WIDTH = 580;
const LEFT = 66;
const RIGHT = 16;
const TOP = 16;
const PLOT = 210;

/** How long after the earlier fault the later one came: a pile at the beginning is the mark of a consequence, an even spread is not. */
export function LagProfile({ pattern, file }: { readonly pattern: RecurringPattern; readonly file: string }) {
  const { lags, medianLagDays: median } = pattern;
  const end = Math.max(1, ...lags.map(({ toDay }) => toDay));
  const most = Math.max(1, ...lags.map(({ count: n }) => n));
  const total = lags.reduce((sum, { count: n }) => sum + n, 0);
  const x = scaleLinear()
    .domain([0, end])
    .range([LEFT, WIDTH - RIGHT]);
  const y = scaleLinear()
    .domain([0, most])
    .nice(4)
    .range([TOP + PLOT, TOP]);
  return (
    <Figure
      title="How long it takes"
      words={`${plural(total, 'car')} with ${inSentence(pattern.effect)} after ${inSentence(pattern.cause)}${median === null ? '' : `, half of them within ${count(median)} days`}. A consequence piles up early or at one age; chance spreads evenly.`}
      file={`${file}-lag`}
      width={WIDTH}
      height={TOP + PLOT + 48}
      columns={[{ name: 'from day' }, { name: 'to day' }, { name: 'cars' }]}
      rows={lags.map(({ fromDay, toDay, count: n }) => [fromDay, toDay, n])}
      points={lags.map(({ fromDay, toDay, count: n }) => `Day ${count(fromDay)} to ${count(toDay)}: ${plural(n, 'car')}.`)}
    >
      {(chosen, choose) => (
        <>
          <AxisUp
            scale={y}
            ticks={y.ticks(4).filter(Number.isInteger)}
            show={count}
            label="cars"
            x={LEFT}
            top={TOP}
            bottom={TOP + PLOT}
            to={WIDTH - RIGHT}
          />
          {lags.map(({ fromDay, toDay, count: n }, i) => (
            <g key={fromDay} onPointerEnter={() => choose(i)}>
              <rect x={x(fromDay)} width={x(toDay) - x(fromDay)} y={TOP} height={PLOT} fill="transparent" />
              <rect
                x={x(fromDay) + 1}
                width={Math.max(1, x(toDay) - x(fromDay) - 2)}
                y={y(n)}
                height={TOP + PLOT - y(n)}
                fill="var(--pine)"
                fillOpacity={i === chosen ? 1 : 0.62}
              />
            </g>
          ))}
          {median === null ? null : (
            <g>
              <line x1={x(median)} x2={x(median)} y1={TOP} y2={TOP + PLOT} stroke="var(--ink)" strokeWidth="1.5" strokeDasharray="4 3" />
              <text className="soft" x={x(median) + 6} y={TOP + 10}>
                half by day {count(median)}
              </text>
            </g>
          )}
          <AxisAcross
            scale={x}
            ticks={x.ticks(6)}
            show={count}
            label="days from the earlier fault to the later"
            from={LEFT}
            to={WIDTH - RIGHT}
            y={TOP + PLOT}
          />
        </>
      )}
    </Figure>
  );
}
