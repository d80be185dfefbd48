import { applies } from '../catalogue/entries.js';
import { FAULT_CODES, type FaultCode, type HypothesisCode, type RefrigerantName } from '../codes.js';
import { CMD, D0, D1, DIMS, DUTY, E, L, PRESSURE_DIMS, Q1, Q2, SPD, TC, TD, TQ1, TQ2, TS, TV } from '../dims.js';
import type { EnginePlatform } from '../evidence.js';
import type { Expectation } from '../expectation.js';
import { type HypothesisNode, hypothesisNode } from '../node.js';
import type { Room } from '../room.js';
import { saturationPressure, saturationTemperature } from '../saturation.js';
import type { Weather } from '../weather.js';
import type { EffectRow } from './effect-row.js';
import { effectRows } from './rows.js';

const BAR = 1e5;

/** A sound system, with its pressures in Pa. */
interface Sound extends Expectation {
  readonly name: RefrigerantName;
  readonly pa: Float64Array;
}

/** One severity of a fault as the tables have it, with every field: rows of one shape cost the loops over them a tenth. Pressures in bar, temperatures in K. */
export interface TabulatedSeverity {
  readonly code: FaultCode;
  readonly severity: number;
  readonly share: number;
  readonly lost: number;
  /** Nothing runs: pressures stay as at rest. */
  readonly stopped: boolean;
  /** The circuit does not show it: sound means. */
  readonly silent: boolean;
  /** Change of each pressure, in the order of PRESSURE_DIMS. */
  readonly bars: Float64Array;
  readonly sc: number;
  readonly sh: number;
  readonly tdis: number;
  readonly vent: number;
  readonly core: number;
  readonly command: number;
  readonly duty: number;
  readonly speed: number;
  /** One standard deviation of the effect itself, as a factor of its size. */
  readonly doubt: number;
}

function tabulatedSeverity(code: FaultCode, row: EffectRow, silent = false): TabulatedSeverity {
  const { low = 0, dis = 0, liq = 0, vent = 0 } = row;
  const change: Record<number, number> = {
    [L]: low,
    [E]: row.evap ?? low,
    [D0]: dis + (row.line ?? 0),
    [D1]: dis,
    [Q1]: liq,
    [Q2]: liq + (row.late ?? 0),
  };
  return {
    code,
    severity: row.severity,
    share: row.share,
    lost: row.lost,
    stopped: row.stopped ?? false,
    silent,
    bars: Float64Array.from(PRESSURE_DIMS, (dim) => change[dim]!),
    sc: row.sc ?? 0,
    sh: row.sh ?? 0,
    tdis: row.tdis ?? 0,
    vent,
    core: row.core ?? (row.lost === 0 ? 0 : vent),
    command: row.command ?? 0,
    duty: row.duty ?? 0,
    speed: row.speed ?? 0,
    doubt: row.doubt ?? 0.3,
  };
}

/**
 * Every fault's tabulated severities on this hardware; a fault the running circuit does not show keeps the sound means.
 * Of faults in `simulated` only the severities beyond it: those at which nothing runs, and wrecks.
 */
export function tabulatedSeverities(platform: EnginePlatform, simulated: ReadonlySet<string>): TabulatedSeverity[] {
  return FAULT_CODES.filter((code) => applies(code, platform)).flatMap((code) => {
    const rows = effectRows(code, platform);
    if (simulated.has(code)) return rows.filter((row) => row.stopped || row.beyond).map((row) => tabulatedSeverity(code, row));
    if (rows.length > 0) return rows.map((row) => tabulatedSeverity(code, row));
    return [tabulatedSeverity(code, { severity: code === 'healthy' ? 0 : 0.5, share: 1, lost: 0 }, true)];
  });
}

/** Means of the circuit under one effect, written to `mean`: pressures move in bar, then superheat and subcooling follow and never turn negative. */
function shift(row: TabulatedSeverity, weather: Weather, { name, mean: healthy, pa }: Sound, mean: Float64Array): void {
  mean.set(healthy);
  if (row.stopped) {
    // At rest everything stands at the temperature of the air around, or below saturation when little is left.
    const still = weather.condenserAir.value - (row.severity < 1 ? 22 : 0);
    for (const i of PRESSURE_DIMS) mean[i] = still;
    mean[TS] = weather.condenserAir.value;
    mean[TQ1] = weather.condenserAir.value + 1;
    mean[TQ2] = mean[TQ1]!;
    mean[TD] = weather.condenserAir.value + 5;
    mean[TV] = weather.evaporatorAir.value;
    mean[TC] = weather.evaporatorAir.value;
    mean[DUTY] = 0;
    return;
  }
  for (let k = 0; k < PRESSURE_DIMS.length; k++) {
    const bar = row.bars[k]!;
    if (bar !== 0) mean[PRESSURE_DIMS[k]!] = saturationTemperature(name, Math.max(pa[k]! + bar * BAR, 0.3 * BAR));
  }
  const superheat = Math.max(healthy[TS]! - healthy[L]! + row.sh, 0);
  // The suction pipe cannot get warmer than the air that warms it.
  mean[TS] = Math.min(mean[L]! + superheat, weather.evaporatorAir.value + 8);
  const subcooling = Math.max(healthy[Q1]! - healthy[TQ1]! + row.sc, 0);
  mean[TQ1] = mean[Q1]! - subcooling;
  // Liquid that meets its saturation after the drier flashes and is cooled to it.
  mean[TQ2] = Math.min(mean[TQ1]! - 0.5, mean[Q2]!);
  mean[TD] = healthy[TD]! + row.tdis;
  mean[TV] = Math.min(Math.max(healthy[TV]! + row.vent, 271), weather.evaporatorAir.value + 12);
  mean[TC] = healthy[TC]! + row.core;
  mean[CMD] = Math.min(Math.max(healthy[CMD]! + row.command, 0), 1);
  mean[DUTY] = Math.min(Math.max(healthy[DUTY]! + row.duty, 0), 1);
  mean[SPD] = Math.max(healthy[SPD]! + row.speed, 0);
}

/** Variance of what stands still beside the pressures, by dimension: temperatures of the parts in K^2, shares. */
const STILL: Readonly<Record<number, number>> = {
  [TS]: 16,
  [TQ1]: 16,
  [TQ2]: 16,
  [TD]: 100,
  [TV]: 16,
  [TC]: 16,
  [CMD]: 0.2,
  [DUTY]: 0.2,
  [SPD]: 0.2,
};

/** At rest all pressures are one, known as well as the temperature of the parts; only air temperatures stay loose. */
function stoppedSpread(common: number, healthy: Float64Array, dims: readonly number[], spread: Float64Array): Float64Array {
  for (const i of dims) {
    for (const j of dims) {
      const pressures = STILL[i] === undefined && STILL[j] === undefined;
      const own = i === j ? (STILL[i] ?? 0.5) : 0;
      // The running system's own width does not apply to one that stands.
      spread[i * DIMS + j] = (pressures ? common * common : 0) + own - healthy[i * DIMS + j]!;
    }
  }
  return spread;
}

/** The size of an effect is itself doubtful: one common factor on the whole shift. Written to `spread` for `dims`; null where none of them moves. */
function spreadOf(
  row: TabulatedSeverity,
  expectation: Expectation,
  mean: Float64Array,
  dims: readonly number[],
  spread: Float64Array,
): Float64Array | null {
  if (row.stopped) return stoppedSpread(row.severity < 1 ? 12 : 5, expectation.covariance, dims, spread);
  const healthy = expectation.mean;
  const common = row.doubt * row.doubt;
  let any = false;
  for (let a = 0; a < dims.length; a++) {
    const i = dims[a]!;
    const di = mean[i]! - healthy[i]!;
    if (di !== 0) any = true;
    for (let b = 0; b <= a; b++) {
      const j = dims[b]!;
      const both = common * di * (mean[j]! - healthy[j]!);
      spread[i * DIMS + j] = both;
      spread[j * DIMS + i] = both;
    }
    spread[i * DIMS + i]! += (0.12 * di) ** 2;
  }
  return any ? spread : null;
}

/** Hypotheses of tabulated severities in this weather; covariances are filled for `dims`. */
export function tabulatedNodes(
  severities: readonly TabulatedSeverity[],
  name: RefrigerantName,
  weather: Weather,
  healthy: Expectation,
  dims: readonly number[],
  room: Room,
): HypothesisNode[] {
  const pa = Float64Array.from(PRESSURE_DIMS, (dim) => saturationPressure(name, healthy.mean[dim]!));
  const sound: Sound = { mean: healthy.mean, covariance: healthy.covariance, name, pa };
  return severities.map((row) => {
    const { code, severity, lost, share } = row;
    if (row.silent) return hypothesisNode(code, severity, lost, share, healthy.mean, null);
    const { mean, covariance } = room.take();
    shift(row, weather, sound, mean);
    return hypothesisNode(code, Math.min(severity, 1), lost, share, mean, spreadOf(row, sound, mean, dims, covariance));
  });
}

/** A hypothesis that leaves the circuit healthy but lets some dimensions read anything within a width. */
export function looseNode(
  code: HypothesisCode,
  healthy: Expectation,
  loose: readonly (readonly [dim: number, sigma: number])[],
  room: Room,
  { common = 0, share = 1, mean = healthy.mean }: { readonly common?: number; readonly share?: number; readonly mean?: Float64Array } = {},
): HypothesisNode {
  if (loose.length === 0) return hypothesisNode(code, 0.5, 0, share, mean, null);
  const spread = room.take().covariance.fill(0);
  for (const [i, sigma] of loose) {
    spread[i * DIMS + i]! += sigma * sigma;
    for (const [j] of loose) spread[i * DIMS + j]! += common * common;
  }
  return hypothesisNode(code, 0.5, 0, share, mean, spread);
}
