/**
 * Change of a sound system by one severity of a fault: pressures in bar, temperatures in K, shares as ratios. Sizes follow a small
 * reference cycle model at 32 C and 1,500 rpm and, where it has no such physics, trade practice; they are start values, not field data.
 */
export interface EffectRow {
  readonly severity: number;
  readonly share: number;
  readonly lost: number;
  /** Low side at the compressor inlet. */
  readonly low?: number;
  /** Evaporator side of the low side when it moves apart from the compressor side. */
  readonly evap?: number;
  /** Condenser inlet. */
  readonly dis?: number;
  /** Compressor outlet beyond the condenser inlet. */
  readonly line?: number;
  /** Condenser outlet. */
  readonly liq?: number;
  /** After the drier, beyond the condenser outlet. */
  readonly late?: number;
  readonly sc?: number;
  readonly sh?: number;
  readonly tdis?: number;
  readonly vent?: number;
  readonly core?: number;
  readonly command?: number;
  readonly duty?: number;
  readonly speed?: number;
  /** One standard deviation of the effect itself, as a factor of its size; 0.3 unless said. */
  readonly doubt?: number;
  /** Pressures stay as at rest: the compressor does not pump. */
  readonly stopped?: boolean;
  /** Beyond what the cycle model simulates: kept beside its severities. */
  readonly beyond?: boolean;
}

/** Three severities with their shares. */
export const three = (
  a: Omit<EffectRow, 'severity' | 'share'>,
  b: Omit<EffectRow, 'severity' | 'share'>,
  c: Omit<EffectRow, 'severity' | 'share'>,
): EffectRow[] => [
  { severity: 0.25, share: 0.34, ...a },
  { severity: 0.55, share: 0.36, ...b },
  { severity: 0.85, share: 0.3, ...c },
];
