import type { RepairIntent } from '../client/generated/api.ts';
import { percent } from '../shell/words.ts';
import { IntentShape } from './intent.tsx';

const GRID = [0, 0.25, 0.5, 0.75, 1];
const at = (share: number) => `${(100 * share).toFixed(2)}%`;

interface Interval {
  readonly intent: RepairIntent;
  readonly probability: number;
  readonly low: number;
  readonly high: number;
  /** The same fault and kind of repair on the other platforms. */
  readonly elsewhere: number | null;
}

/** A probability and its interval on the scale 0 to 100 % that all lines of the board have in common. */
export function IntervalBar({ intent, probability, low, high, elsewhere }: Interval) {
  return (
    <svg
      className={intent}
      width="100%"
      height="24"
      role="img"
      aria-label={`${percent(probability)}, between ${percent(low)} and ${percent(high)}`}
    >
      {GRID.map((x) => (
        <line key={x} className="grid" x1={at(x)} x2={at(x)} y1="0" y2="24" />
      ))}
      <line x1={at(low)} x2={at(high)} y1="12" y2="12" stroke="currentColor" strokeWidth="5" strokeOpacity="0.45" />
      <line x1={at(low)} x2={at(low)} y1="6" y2="18" stroke="currentColor" strokeWidth="1.5" />
      <line x1={at(high)} x2={at(high)} y1="6" y2="18" stroke="currentColor" strokeWidth="1.5" />
      {elsewhere === null ? null : (
        <line x1={at(elsewhere)} x2={at(elsewhere)} y1="2" y2="22" stroke="var(--ink)" strokeWidth="2" strokeDasharray="3 2" />
      )}
      <svg x={at(probability)} y="12" overflow="visible" aria-hidden="true">
        <IntentShape intent={intent} />
      </svg>
    </svg>
  );
}

/** The scale of the bars, drawn once above them; `sparse` where there is room for three figures only. */
export function IntervalScale({ sparse = false }: { readonly sparse?: boolean }) {
  return (
    <svg width="100%" height="18" aria-hidden="true">
      {GRID.filter((x) => !sparse || x % 0.5 === 0).map((x) => (
        <text key={x} className="soft" x={at(x)} y="13" textAnchor={x === 0 ? 'start' : x === 1 ? 'end' : 'middle'}>
          {100 * x} %
        </text>
      ))}
    </svg>
  );
}
