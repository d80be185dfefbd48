import { applies } from '../catalogue/entries.js';
import { FAULT_CODES, type FaultCode, type HypothesisCode, type RefrigerantName } from '../codes.js';
import { CMD, D0, D1, DIMS, DUTY, E, L, PRESSURE_DIMS, Q1, Q2, SPD, TC, TD, TQ1, TQ2, TS, TV } from '../dims.js';
import type { EnginePlatform } from '../evidence.js';
import type { Expectation } from '../expectation.js';
import { type HypothesisNode, hypothesisNode } from '../node.js';
import { Room } from '../room.js';
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

/** Means of the circuit under one effect, written to `mean`: pressures move in bar, then superheat and subcooling follow and never turn negative. */
function shift(row: EffectRow, weather: Weather, { name, mean: healthy, pa }: Sound, mean: Float64Array): void {
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
  const move = (dim: number, bar: number | undefined) => {
    if (!bar) return;
    mean[dim] = saturationTemperature(name, Math.max(pa[dim]! + bar * BAR, 0.3 * BAR));
  };
  const dis = row.dis ?? 0;
  const liq = row.liq ?? 0;
  const low = row.low ?? 0;
  move(L, low);
  move(E, row.evap ?? low);
  move(D1, dis);
  move(D0, dis + (row.line ?? 0));
  move(Q1, liq);
  move(Q2, liq + (row.late ?? 0));
  const superheat = Math.max(healthy[TS]! - healthy[L]! + (row.sh ?? 0), 0);
  // The suction pipe cannot get warmer than the air that warms it.
  mean[TS] = Math.min(mean[L]! + superheat, weather.evaporatorAir.value + 8);
  const subcooling = Math.max(healthy[Q1]! - healthy[TQ1]! + (row.sc ?? 0), 0);
  mean[TQ1] = mean[Q1]! - subcooling;
  // Liquid that meets its saturation after the drier flashes and is cooled to it.
  mean[TQ2] = Math.min(mean[TQ1]! - 0.5, mean[Q2]!);
  mean[TD] = healthy[TD]! + (row.tdis ?? 0);
  mean[TV] = Math.min(Math.max(healthy[TV]! + (row.vent ?? 0), 271), weather.evaporatorAir.value + 12);
  mean[TC] = healthy[TC]! + (row.core ?? (row.vent === undefined || row.lost === 0 ? 0 : row.vent));
  mean[CMD] = Math.min(Math.max(healthy[CMD]! + (row.command ?? 0), 0), 1);
  mean[DUTY] = Math.min(Math.max(healthy[DUTY]! + (row.duty ?? 0), 0), 1);
  mean[SPD] = Math.max(healthy[SPD]! + (row.speed ?? 0), 0);
}

/** At rest all pressures are one, known as well as the temperature of the parts; only air temperatures stay loose. */
function stoppedSpread(common: number, healthy: Float64Array, spread: Float64Array): Float64Array {
  for (const i of PRESSURE_DIMS) for (const j of PRESSURE_DIMS) spread[i * DIMS + j] = common * common + (i === j ? 0.5 : 0);
  for (const i of [TS, TQ1, TQ2, TD, TV, TC]) spread[i * DIMS + i] = 16;
  spread[TD * DIMS + TD] = 100;
  for (const i of [CMD, DUTY, SPD]) spread[i * DIMS + i] = 0.2;
  // The running system's own width does not apply to one that stands.
  for (let i = 0; i < spread.length; i++) spread[i]! -= healthy[i]!;
  return spread;
}

/** The size of an effect is itself doubtful: one common factor on the whole shift. Written to `spread`. */
function spreadOf(row: EffectRow, expectation: Expectation, mean: Float64Array, spread: Float64Array): Float64Array | null {
  spread.fill(0);
  if (row.stopped) return stoppedSpread(row.severity < 1 ? 12 : 5, expectation.covariance, spread);
  const healthy = expectation.mean;
  const doubt = row.doubt ?? 0.3;
  let any = false;
  for (let i = 0; i < DIMS; i++) {
    const di = mean[i]! - healthy[i]!;
    if (di === 0) continue;
    any = true;
    for (let j = 0; j < DIMS; j++) spread[i * DIMS + j]! += doubt * doubt * di * (mean[j]! - healthy[j]!);
    spread[i * DIMS + i]! += (0.12 * di) ** 2;
  }
  return any ? spread : null;
}

/**
 * Every fault's severities on this hardware in this weather; a fault the running circuit does not show keeps the healthy means.
 * Of faults in `simulated` only the severities beyond it are added: those at which nothing runs, and wrecks.
 */
export function faultNodes(
  platform: EnginePlatform,
  weather: Weather,
  healthy: Expectation,
  simulated: ReadonlySet<string> = new Set(),
  room = new Room(),
): HypothesisNode[] {
  const name = platform.refrigerant;
  const pa = Float64Array.from(PRESSURE_DIMS, (dim) => saturationPressure(name, healthy.mean[dim]!));
  const sound: Sound = { ...healthy, name, pa };
  const nodes: HypothesisNode[] = [];
  for (const code of FAULT_CODES) {
    if (!applies(code, platform)) continue;
    const rows = effectRows(code, platform);
    if (simulated.has(code)) {
      for (const row of rows) if (row.stopped || row.beyond) nodes.push(nodeOf(code, row, weather, sound, room));
    } else if (rows.length > 0) {
      for (const row of rows) nodes.push(nodeOf(code, row, weather, sound, room));
    } else {
      const severity = code === 'healthy' ? 0 : 0.5;
      nodes.push(hypothesisNode(code, severity, 0, 1, healthy.mean, null));
    }
  }
  return nodes;
}

function nodeOf(code: FaultCode, row: EffectRow, weather: Weather, sound: Sound, room: Room): HypothesisNode {
  const { mean, covariance } = room.take();
  shift(row, weather, sound, mean);
  const spread = spreadOf(row, sound, mean, covariance);
  return hypothesisNode(code, Math.min(row.severity, 1), row.lost, row.share, mean, spread);
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
