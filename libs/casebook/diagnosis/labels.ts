import type { FaultCode, ProofMethod, RepairAction } from '#libs/contracts/index.js';

/** Repairs that open the circuit: evacuation and a weighed charge follow, and cure charge and air whatever else was wrong. */
export const OPENING_ACTIONS: readonly RepairAction[] = [
  'replace-filter-cartridge',
  'replace-condenser',
  'replace-compressor',
  'replace-compressor-and-condenser',
  'replace-receiver-drier',
  'replace-accumulator',
  'replace-thermostatic-valve',
  'replace-orifice-tube',
  'replace-hose',
  'replace-seals',
  'replace-evaporator',
  'recover-evacuate-charge',
  'flush-lines',
  'correct-oil',
];

/** Recovered mass counts as the specified charge within this share (common practice: ±10 % of the charge already misleads). */
const CHARGE_TOLERANCE = 0.1;
/** Air above this share of the gas phase is air in the system, as the identifier's own channel of the engine takes it. */
const AIR_SHARE = 0.02;

export interface ProofFacts {
  /** Causes of the latest proof that is more than a judgement. */
  readonly faults: readonly FaultCode[];
  readonly method: ProofMethod;
  /** A repair of this visit opened the circuit or charged it. */
  readonly recharged: boolean;
  /** Recovered before the repair, as a share of the specified charge; null when it was not weighed. */
  readonly recoveredShare: number | null;
  /** What the identifier showed before the repair; null when it was not asked. */
  readonly airShare: number | null;
}

/**
 * What a proof establishes: one cause, or the set of causes it leaves.
 *
 * A part that was opened and a laboratory speak for themselves. Good after-readings prove the whole of what was done: where that included evacuation and a
 * weighed charge, wrong charge and air are cured along with it, and stay in the set unless recovered weight and identifier acquitted them beforehand.
 */
export function labelSet(proof: ProofFacts): FaultCode[] {
  const label = new Set(proof.faults);
  if (proof.method === 'verified-after-readings' && proof.recharged) {
    const { recoveredShare, airShare } = proof;
    if (recoveredShare === null || recoveredShare < 1 - CHARGE_TOLERANCE) label.add('undercharge');
    if (recoveredShare === null || recoveredShare > 1 + CHARGE_TOLERANCE) label.add('overcharge');
    if (airShare === null || airShare > AIR_SHARE) label.add('air-in-system');
  }
  return [...label].sort();
}
