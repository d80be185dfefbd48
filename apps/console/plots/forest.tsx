import { scaleLinear, scaleLog } from 'd3-scale';
import type { RepairIntent } from '../client/generated/api.ts';
import { IntentShape } from '../recurrences/intent.tsx';
import type { Cell } from '../shell/csv.ts';
import { AxisAcross } from './axes.tsx';
import { Figure, type FigureColumn } from './figure.tsx';

export interface ForestRow {
  readonly key: string;
  readonly name: string;
  /** Null where there is too little for a figure: the row says so instead. */
  readonly point: number | null;
  readonly low: number | null;
  readonly high: number | null;
  /** What the figure stands on, in few words. */
  readonly stands: string;
  readonly shape?: RepairIntent;
  readonly strong?: boolean;
  readonly href?: string;
  /** Further columns of the table beside the plot. */
  readonly further?: readonly Cell[];
}

interface Props {
  readonly title: string;
  readonly words: string;
  readonly file: string;
  readonly label: string;
  readonly rows: readonly ForestRow[];
  readonly show: (value: number) => string;
  /** Ratios on a scale on which equal steps multiply; everything else from a linear one. */
  readonly ratios?: boolean;
  readonly within?: readonly [number, number];
  /** Lines through all rows, with what they stand for. */
  readonly marks?: readonly { readonly at: number; readonly name: string }[];
  readonly furtherColumns?: readonly FigureColumn[];
  /** For half the width of a page. */
  readonly narrow?: boolean;
}

/** Drawn close to its size on the screen, so that letters keep theirs. */
const WIDE = { width: 1080, names: 236, stands: 190, letters: 36 };
const NARROW = { width: 580, names: 158, stands: 158, letters: 24 };
const ROW = 30;
const TOP = 24;
/** A scale of ratios ends here on both sides; intervals that go on carry an arrow. */
const RATIO_ENDS = [0.1, 100] as const;

/** Estimates with their intervals, one below the other on one scale. */
export function Forest({
  title,
  words,
  file,
  label,
  rows,
  show,
  ratios = false,
  within,
  marks = [],
  furtherColumns = [],
  narrow = false,
}: Props) {
  const { width, names, stands: right, letters } = narrow ? NARROW : WIDE;
  const from = names;
  const to = width - right;
  const values = [
    ...rows.flatMap(({ point, low, high }) => [point, low, high]).filter((one): one is number => one !== null),
    ...marks.map(({ at }) => at),
  ];
  const scale = ratios ? ratioScale(values, from, to) : linearScale(values, from, to, within);
  const [least, most] = scale.domain() as [number, number];
  const bottom = TOP + ROW * rows.length;
  const held = (value: number) => Math.min(most, Math.max(least, value));
  const said = ({ name, point, low, high, stands }: ForestRow) =>
    point === null
      ? `${name}: too little for a figure, ${stands}.`
      : `${name}: ${show(point)}${low === null || high === null ? '' : `, between ${show(low)} and ${show(high)}`}; ${stands}.`;
  return (
    <Figure
      title={title}
      words={words}
      file={file}
      width={width}
      height={bottom + 48}
      columns={[
        { name: 'name' },
        { name: label, show },
        { name: 'low', show },
        { name: 'high', show },
        { name: 'stands on' },
        ...furtherColumns,
      ]}
      rows={rows.map(({ name, point, low, high, stands, further = [] }) => [name, point, low, high, stands, ...further])}
      links={rows.map(({ href }) => href ?? null)}
      points={rows.map(said)}
    >
      {(chosen, choose) => (
        <>
          <AxisAcross
            scale={(value) => scale(value)}
            ticks={ratios ? ratioTicks(least, most) : scale.ticks(narrow ? 3 : 5)}
            show={show}
            label={label}
            from={from}
            to={to}
            y={bottom}
            top={TOP - 4}
          />
          {marks.map(({ at, name }) => (
            <g key={name}>
              <line x1={scale(at)} x2={scale(at)} y1={TOP - 6} y2={bottom} stroke="var(--ink)" strokeWidth="1.5" strokeDasharray="4 3" />
              <text className="soft" x={scale(at)} y={TOP - 11} textAnchor="middle">
                {name}
              </text>
            </g>
          ))}
          {rows.map((row, i) => {
            const y = TOP + ROW * (i + 0.5);
            return (
              <g key={row.key} className={row.shape ?? 'permanent'} onPointerEnter={() => choose(i)}>
                <rect
                  x="0"
                  width={width}
                  y={y - ROW / 2}
                  height={ROW}
                  fill={i === chosen ? 'var(--pine-wash)' : 'transparent'}
                  fillOpacity="0.7"
                />
                <text x="4" y={y + 4} fontWeight={row.strong ? 700 : 400}>
                  {row.name.length > letters ? `${row.name.slice(0, letters - 1)}…` : row.name}
                </text>
                <text className="soft" x={width - 4} y={y + 4} textAnchor="end">
                  {row.stands}
                </text>
                {row.point === null ? null : (
                  <>
                    {row.low === null || row.high === null ? null : (
                      <Interval
                        from={scale(held(row.low))}
                        to={scale(held(row.high))}
                        y={y}
                        cutLow={row.low < least}
                        cutHigh={row.high > most}
                      />
                    )}
                    <g transform={`translate(${scale(held(row.point))} ${y})`}>
                      <IntentShape intent={row.shape ?? 'permanent'} />
                    </g>
                  </>
                )}
              </g>
            );
          })}
        </>
      )}
    </Figure>
  );
}

interface IntervalProps {
  readonly from: number;
  readonly to: number;
  readonly y: number;
  readonly cutLow: boolean;
  readonly cutHigh: boolean;
}

function Interval({ from, to, y, cutLow, cutHigh }: IntervalProps) {
  return (
    <g stroke="currentColor" fill="none">
      <line x1={from} x2={to} y1={y} y2={y} strokeWidth="5" strokeOpacity="0.45" />
      {cutLow ? (
        <path d={`M${from + 7} ${y - 6}L${from} ${y}l7 6`} strokeWidth="1.5" />
      ) : (
        <line x1={from} x2={from} y1={y - 6} y2={y + 6} strokeWidth="1.5" />
      )}
      {cutHigh ? (
        <path d={`M${to - 7} ${y - 6}L${to} ${y}l-7 6`} strokeWidth="1.5" />
      ) : (
        <line x1={to} x2={to} y1={y - 6} y2={y + 6} strokeWidth="1.5" />
      )}
    </g>
  );
}

function linearScale(values: readonly number[], from: number, to: number, within: readonly [number, number] | undefined) {
  const domain = within ?? [Math.min(0, ...values), Math.max(1e-9, ...values)];
  const scale = scaleLinear().domain(domain).range([from, to]);
  return within ? scale : scale.nice(5);
}

function ratioScale(values: readonly number[], from: number, to: number) {
  const [floor, ceiling] = RATIO_ENDS;
  const least = Math.max(floor, Math.min(0.5, ...values.filter((one) => one > 0)));
  const most = Math.min(ceiling, Math.max(2, ...values));
  return scaleLog().domain([least, most]).range([from, to]);
}

const ratioTicks = (least: number, most: number) =>
  [0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100].filter((tick) => tick >= least && tick <= most);
