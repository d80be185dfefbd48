import { scaleLinear } from 'd3-scale';
import type { RefrigerantBalance } from '../client/generated/api.ts';
import { AxisAcross, AxisUp } from '../plots/axes.tsx';
import { Figure } from '../plots/figure.tsx';
import { count, decimal, monthWords, plural, shortMonth } from '../shell/words.ts';

const WIDTH = 1080;
const LEFT = 66;
const RIGHT = 18;
const TOP = 16;
const PLOT = 230;

interface Month {
  readonly month: string;
  readonly repairs: number;
  readonly unweighed: number;
  readonly recoveredKg: number;
  readonly chargedKg: number;
  /** Null where no line of the month has a number. */
  readonly co2eT: number | null;
}

function monthsOf({ lines }: RefrigerantBalance): readonly Month[] {
  const months = new Map<string, Month>();
  for (const line of lines) {
    const before = months.get(line.month) ?? { month: line.month, repairs: 0, unweighed: 0, recoveredKg: 0, chargedKg: 0, co2eT: null };
    months.set(line.month, {
      month: line.month,
      repairs: before.repairs + line.repairs,
      unweighed: before.unweighed + line.unweighed,
      recoveredKg: before.recoveredKg + line.recoveredG / 1000,
      chargedKg: before.chargedKg + line.chargedG / 1000,
      co2eT: line.co2eKg === null ? before.co2eT : (before.co2eT ?? 0) + line.co2eKg / 1000,
    });
  }
  return [...months.values()].sort((a, b) => (a.month < b.month ? -1 : 1));
}

/** Charged and recovered side by side, month by month, all shops together. */
export function RefrigerantMonths({ balance }: { readonly balance: RefrigerantBalance }) {
  const months = monthsOf(balance);
  const x = scaleLinear()
    .domain([0, months.length])
    .range([LEFT, WIDTH - RIGHT]);
  const y = scaleLinear()
    .domain([0, Math.max(0.1, ...months.flatMap(({ chargedKg, recoveredKg }) => [chargedKg, recoveredKg]))])
    .nice(5)
    .range([TOP + PLOT, TOP]);
  const bar = Math.min(30, (x(1) - x(0)) * 0.36);
  return (
    <Figure
      title="Charged and recovered, all shops"
      words="Weights as recorded, without intervals: they are sums, not estimates. Repairs without a weight are missing from them and counted beside."
      file="refrigerant-months"
      width={WIDTH}
      height={TOP + PLOT + 48}
      columns={[
        { name: 'month' },
        { name: 'charged, kg', show: decimal },
        { name: 'recovered, kg', show: decimal },
        { name: 'net, kg', show: decimal },
        { name: `CO₂ equivalent of the net, t (${balance.assessment})`, show: decimal },
        { name: 'repairs' },
        { name: 'not weighed' },
      ]}
      rows={months.map((one) => [
        one.month,
        one.chargedKg,
        one.recoveredKg,
        one.chargedKg - one.recoveredKg,
        one.co2eT,
        one.repairs,
        one.unweighed,
      ])}
      points={months.map(
        (one) =>
          `${monthWords(one.month)}: ${decimal(one.chargedKg)} kg charged, ${decimal(one.recoveredKg)} kg recovered${one.co2eT === null ? '' : `, net ${decimal(one.co2eT)} t of CO₂ equivalent`}; ${count(one.unweighed)} of ${plural(one.repairs, 'repair')} not weighed.`,
      )}
      first={months.length - 1}
      legend={
        <div className="legend">
          <span className="intent permanent">
            <svg width="14" height="14" aria-hidden="true">
              <rect width="14" height="14" fill="currentColor" />
            </svg>
            charged
          </span>
          <span className="intent temporary">
            <svg width="14" height="14" aria-hidden="true">
              <rect x="1" y="1" width="12" height="12" fill="none" stroke="currentColor" strokeWidth="2" />
            </svg>
            recovered
          </span>
        </div>
      }
    >
      {(chosen, choose) => (
        <>
          <AxisUp scale={y} ticks={y.ticks(5)} show={decimal} label="kg" x={LEFT} top={TOP} bottom={TOP + PLOT} to={WIDTH - RIGHT} />
          {months.map(({ month, chargedKg, recoveredKg }, i) => (
            <g key={month} onPointerEnter={() => choose(i)}>
              <rect x={x(i)} width={x(i + 1) - x(i)} y={TOP} height={PLOT} fill={i === chosen ? 'var(--pine-wash)' : 'transparent'} />
              <rect
                className="permanent"
                x={x(i + 0.5) - bar}
                width={bar}
                y={y(chargedKg)}
                height={TOP + PLOT - y(chargedKg)}
                fill="currentColor"
              />
              <rect
                className="temporary"
                x={x(i + 0.5) + 2}
                width={bar}
                y={y(recoveredKg)}
                height={TOP + PLOT - y(recoveredKg)}
                fill="none"
                stroke="currentColor"
                strokeWidth="2"
              />
            </g>
          ))}
          <AxisAcross
            scale={(i) => x(i + 0.5)}
            ticks={months.map((_, i) => i).filter((i) => months.length <= 14 || i % 3 === 0)}
            show={(i) => shortMonth(months[i]!.month)}
            label="month"
            from={LEFT}
            to={WIDTH - RIGHT}
            y={TOP + PLOT}
          />
        </>
      )}
    </Figure>
  );
}
