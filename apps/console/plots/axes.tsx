/** What the axes need of a scale: a place for a value, and where its marks stand. */
export type AxisScale = (value: number) => number | undefined;

/** A mark of a scale says no more places than it has: 5, not 5.0. */
const bare = (text: string) => text.replace(/\.0+(?=$|\s)/, '');

interface AxisProps {
  readonly scale: AxisScale;
  readonly ticks: readonly number[];
  readonly show: (tick: number) => string;
  /** What is measured, with its unit. */
  readonly label: string;
}

interface AcrossProps extends AxisProps {
  readonly from: number;
  readonly to: number;
  /** Where the axis lies. */
  readonly y: number;
  /** Grid lines reach up to here, when wanted. */
  readonly top?: number;
}

/** The axis beneath a plot. */
export function AxisAcross({ scale, ticks, show, label, from, to, y, top }: AcrossProps) {
  return (
    <g>
      {ticks.map((tick) => (
        <g key={tick}>
          {top === undefined ? null : <line className="grid" x1={scale(tick)} x2={scale(tick)} y1={top} y2={y} />}
          <line className="axis" x1={scale(tick)} x2={scale(tick)} y1={y} y2={y + 5} />
          <text className="soft" x={scale(tick)} y={y + 19} textAnchor="middle">
            {bare(show(tick))}
          </text>
        </g>
      ))}
      <line className="axis" x1={from} x2={to} y1={y} y2={y} />
      <text className="soft" x={(from + to) / 2} y={y + 38} textAnchor="middle">
        {label}
      </text>
    </g>
  );
}

interface UpProps extends AxisProps {
  readonly x: number;
  readonly top: number;
  readonly bottom: number;
  /** Grid lines reach to here. */
  readonly to: number;
}

/** The axis to the left of a plot. */
export function AxisUp({ scale, ticks, show, label, x, top, bottom, to }: UpProps) {
  return (
    <g>
      {ticks.map((tick) => (
        <g key={tick}>
          <line className="grid" x1={x} x2={to} y1={scale(tick)} y2={scale(tick)} />
          <text className="soft" x={x - 8} y={scale(tick)! + 4} textAnchor="end">
            {bare(show(tick))}
          </text>
        </g>
      ))}
      <text className="soft" transform={`translate(14 ${(top + bottom) / 2}) rotate(-90)`} textAnchor="middle">
        {label}
      </text>
    </g>
  );
}
