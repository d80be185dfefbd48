import { scaleLinear } from 'd3-scale';
import type { EngineQuality } from '../client/generated/api.ts';
import { AxisAcross, AxisUp } from '../plots/axes.tsx';
import { Figure } from '../plots/figure.tsx';
import { count, decimal, percent, plural } from '../shell/words.ts';

const WIDTH = 1080;
const LEFT = 66;
const RIGHT = 18;
const TOP = 26;
const PLOT = 300;
const SHARES = [0, 0.25, 0.5, 0.75, 1];

/** How often an answer given with a probability was right, against that probability, and where a perfect engine would lie on as many cases. */
export function ReliabilityCurve({ reliability }: { readonly reliability: NonNullable<EngineQuality['reliability']> }) {
  const { points } = reliability;
  const x = scaleLinear()
    .domain([0, 1])
    .range([LEFT, WIDTH - RIGHT]);
  const y = scaleLinear()
    .domain([0, 1])
    .range([TOP + PLOT, TOP]);
  return (
    <Figure
      title="Does it mean what it says?"
      words={`Of answers given with a probability, how many were right, over ${plural(reliability.n, 'proved case')} (CORP, isotonic). The band: where a perfectly honest engine would lie in 95 of 100 samples of this size. ${
        reliability.slope === null
          ? ''
          : `Slope ${decimal(reliability.slope)}${reliability.slopeLow === null || reliability.slopeHigh === null ? '' : ` (${decimal(reliability.slopeLow)} to ${decimal(reliability.slopeHigh)})`}: below 1 it claims too much, above 1 too little.`
      }`}
      file="engine-reliability"
      width={WIDTH}
      height={TOP + PLOT + 48}
      columns={[
        { name: 'said from', show: percent },
        { name: 'said to', show: percent },
        { name: 'cases' },
        { name: 'was right', show: percent },
        { name: 'band low', show: percent },
        { name: 'band high', show: percent },
      ]}
      rows={points.map(({ from, to, n, observed, low, high }) => [from, to, n, observed, low, high])}
      points={points.map(
        ({ from, to, n, observed, low, high }) =>
          `Said ${percent(from)} to ${percent(to)} in ${plural(n, 'case')}: right in ${percent(observed)}; a perfect engine would lie between ${percent(low)} and ${percent(high)}.`,
      )}
    >
      {(chosen, choose) => (
        <>
          <AxisUp
            scale={y}
            ticks={SHARES}
            show={percent}
            label="first answer was right, %"
            x={LEFT}
            top={TOP}
            bottom={TOP + PLOT}
            to={WIDTH - RIGHT}
          />
          <line x1={x(0)} y1={y(0)} x2={x(1)} y2={y(1)} stroke="var(--ink)" strokeWidth="1.5" strokeDasharray="4 3" />
          {points.map(({ from, to, n, observed, low, high }, i) => {
            const width = Math.max(3, x(to) - x(from));
            return (
              <g key={`${from} ${to}`} className="permanent" onPointerEnter={() => choose(i)}>
                <rect x={x(from)} width={width} y={y(high)} height={Math.max(1, y(low) - y(high))} fill="var(--edge)" fillOpacity="0.25" />
                <line
                  x1={x(from)}
                  x2={x(from) + width}
                  y1={y(observed)}
                  y2={y(observed)}
                  stroke="currentColor"
                  strokeWidth={i === chosen ? 6 : 3.5}
                />
                {width > 34 ? (
                  <text className="soft" x={x(from) + width / 2} y={y(observed) - 8} textAnchor="middle">
                    {count(n)}
                  </text>
                ) : null}
              </g>
            );
          })}
          <AxisAcross
            scale={x}
            ticks={SHARES}
            show={percent}
            label="probability the engine gave its first answer, %; figures at the steps: cases"
            from={LEFT}
            to={WIDTH - RIGHT}
            y={TOP + PLOT}
          />
        </>
      )}
    </Figure>
  );
}
