import { scaleLinear } from 'd3-scale';
import type { Shop } from '../client/generated/api.ts';
import { AxisAcross, AxisUp } from '../plots/axes.tsx';
import { Figure } from '../plots/figure.tsx';
import { decimal } from '../shell/words.ts';

export const MONTHS = ['Jan', 'Feb', 'Mar', 'Apr', 'May', 'Jun', 'Jul', 'Aug', 'Sep', 'Oct', 'Nov', 'Dec'] as const;
/** The base above which a day counts as heat: that of the heat clock, °C. */
const BASE_C = 18;
const WIDTH = 1080;
const LEFT = 66;
const RIGHT = 120;
const TOP = 16;
const PLOT = 200;

/** The shop's year: mean of each month, and the span in which two of three days lie. */
export function Climate({ shop }: { readonly shop: Shop }) {
  const lows = shop.normals.map(({ meanC, sdC }) => meanC - sdC);
  const highs = shop.normals.map(({ meanC, sdC }) => meanC + sdC);
  const x = scaleLinear()
    .domain([0, 12])
    .range([LEFT, WIDTH - RIGHT]);
  const y = scaleLinear()
    .domain([Math.min(0, ...lows), Math.max(BASE_C + 4, ...highs)])
    .nice(5)
    .range([TOP + PLOT, TOP]);
  return (
    <section className="sheet" aria-label="Climate">
      <Figure
        title="The climate its heat clock runs on"
        words="Mean of the daily mean temperature of each month; the bars reach one standard deviation to both sides, where two of three days lie. Days above 18 °C run the heat clock, also in months whose mean lies below."
        file={`climate-${shop.code}`}
        width={WIDTH}
        height={TOP + PLOT + 48}
        columns={[{ name: 'month' }, { name: 'mean, °C', show: decimal }, { name: 'standard deviation, K', show: decimal }]}
        rows={shop.normals.map(({ meanC, sdC }, i) => [MONTHS[i]!, meanC, sdC])}
        points={shop.normals.map(
          ({ meanC, sdC }, i) =>
            `${MONTHS[i]}: mean ${decimal(meanC)} °C, two of three days between ${decimal(meanC - sdC)} and ${decimal(meanC + sdC)} °C.`,
        )}
        first={6}
      >
        {(chosen, choose) => (
          <>
            <AxisUp
              scale={y}
              ticks={y.ticks(5)}
              show={String}
              label="temperature, °C"
              x={LEFT}
              top={TOP}
              bottom={TOP + PLOT}
              to={WIDTH - RIGHT}
            />
            <line x1={LEFT} x2={WIDTH - RIGHT} y1={y(BASE_C)} y2={y(BASE_C)} stroke="var(--ink)" strokeWidth="1.5" strokeDasharray="4 3" />
            <text className="soft" x={WIDTH - RIGHT + 8} y={y(BASE_C) + 4}>
              heat from 18 °C
            </text>
            {shop.normals.map(({ meanC }, i) => (
              <g key={MONTHS[i]} className={meanC >= BASE_C ? 'temporary' : 'permanent'} onPointerEnter={() => choose(i)}>
                <rect
                  x={x(i)}
                  width={x(i + 1) - x(i)}
                  y={TOP}
                  height={PLOT}
                  fill={i === chosen ? 'var(--pine-wash)' : 'transparent'}
                  fillOpacity="0.7"
                />
                <line
                  x1={x(i + 0.5)}
                  x2={x(i + 0.5)}
                  y1={y(lows[i]!)}
                  y2={y(highs[i]!)}
                  stroke="currentColor"
                  strokeWidth="5"
                  strokeOpacity="0.45"
                />
                <circle cx={x(i + 0.5)} cy={y(meanC)} r="5" fill="currentColor" />
              </g>
            ))}
            <AxisAcross
              scale={(i) => x(i + 0.5)}
              ticks={MONTHS.map((_, i) => i)}
              show={(i) => MONTHS[i]!}
              label="month"
              from={LEFT}
              to={WIDTH - RIGHT}
              y={TOP + PLOT}
            />
          </>
        )}
      </Figure>
    </section>
  );
}
