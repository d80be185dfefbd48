import type { FaultCode, RepairAction } from '#libs/contracts/index.js';
import type { Draw } from './draws.js';
import { FULL_SCALE } from './region.js';

/** Repairs for which the circuit is emptied and the whole charge filled in again. */
const FILLED: ReadonlySet<RepairAction> = new Set<RepairAction>([
  'replace-filter-cartridge',
  'replace-condenser',
  'replace-compressor',
  'replace-compressor-and-condenser',
  'replace-accumulator',
  'replace-thermostatic-valve',
  'replace-orifice-tube',
  'replace-seals',
  'recover-evacuate-charge',
]);
/** One filling in eight has no weight on its order. */
const UNWEIGHED = 0.12;
/** Standard deviation of a filling about the specified charge, as a share of it. */
const SPREAD = 0.025;
/** One filling in twenty-five is off by a fifth: hoses that were not counted, a cylinder that ran empty. */
const GROSS = 0.04;

const toFiveGrams = (massG: number) => Math.max(0, 5 * Math.round(massG / 5));

/** What the machine showed at a repair, g, to the five grams of its display. Shares and spreads are invented; a top-up by weight is the exception it is in the trade. */
export function weighedOf(
  { fault, action }: { readonly fault: FaultCode; readonly action: RepairAction },
  specifiedG: number,
  shopCode: string,
  draw: Draw,
): { readonly recoveredG: number | null; readonly chargedG: number | null } {
  const isWeighed = draw.unit() >= UNWEIGHED;
  const left =
    fault === 'undercharge' ? 0.3 + 0.4 * draw.unit() : fault === 'overcharge' ? 1.1 + 0.2 * draw.unit() : 0.85 + 0.15 * draw.unit();
  const gross = draw.unit() < GROSS ? (draw.unit() < 0.7 ? -0.2 : 0.2) : 0;
  const scale = shopCode === FULL_SCALE.shop ? FULL_SCALE.share : 0;
  const filled = 1 + scale + gross + SPREAD * draw.normal();
  if (!isWeighed) return { recoveredG: null, chargedG: null };
  if (action === 'top-up') return { recoveredG: null, chargedG: toFiveGrams(specifiedG * (1 - left)) };
  return FILLED.has(action)
    ? { recoveredG: toFiveGrams(specifiedG * left), chargedG: toFiveGrams(specifiedG * filled) }
    : { recoveredG: null, chargedG: null };
}
