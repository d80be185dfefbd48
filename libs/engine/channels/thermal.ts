import type { EngineInput, EngineThermalMap } from '../evidence.js';
import { logDensity1 } from '../gaussian.js';
import type { HypothesisNode } from '../node.js';
import type { ThermalPicture } from '../result.js';
import type { Weather } from '../weather.js';
import type { Channel } from './channel.js';

/** A height of the condenser face with its mean temperature. */
interface Row {
  readonly y: number;
  readonly temperatureK: number;
}

export interface ThermalFeatures {
  /** Largest step left after the healthy profile is taken out, K (positive: colder below). */
  readonly stepK: number;
  /** Height of that step, 0 top to 1 bottom. */
  readonly stepAt: number;
  /** Step over the boundary between condensing passes and subcooling, less its healthy size, K. */
  readonly boundaryStepK: number | null;
  /** Coldest row of the condensing part minus the air at the grille, K. */
  readonly coldestAboveAirK: number;
  readonly rows: number;
  readonly bareMetal: boolean;
  readonly picture: ThermalPicture;
}

const SUBCOOL_DEFAULT = 0.22;
/** A fall beyond the healthy one that is more than unevenness, K (common practice). */
export const STEP_K = 5;

/** Rows of a map, spots binned by height; parts in the warm air of another cooler are left out. */
function rowsOf(map: EngineThermalMap, input: EngineInput): { rows: Row[]; leftOut: number } {
  let leftOut = 0;
  const zones = input.platform.coolerZones ?? [];
  const shaded = (x: number, y: number) => zones.some((z) => x >= z.left && x <= z.right && y >= z.top && y <= z.bottom);
  const bins = new Map<number, number[]>();
  const put = (x: number, y: number, t: number) => {
    if (shaded(x, y)) {
      leftOut++;
      return;
    }
    const bin = Math.min(Math.floor(y * 16), 15);
    bins.set(bin, [...(bins.get(bin) ?? []), t]);
  };
  for (const spot of map.spots ?? []) put(spot.x, spot.y, spot.temperatureK);
  const grid = map.rowsK ?? [];
  grid.forEach((row, i) => {
    row.forEach((t, j) => {
      put((j + 0.5) / row.length, (i + 0.5) / grid.length, t);
    });
  });
  const rows = [...bins.entries()].sort(([a], [b]) => a - b).map(([bin, ts]) => ({ y: (bin + 0.5) / 16, temperatureK: median(ts) }));
  return { rows, leftOut };
}

const median = (xs: readonly number[]) => {
  const sorted = [...xs].sort((a, b) => a - b);
  const mid = sorted.length >> 1;
  return sorted.length % 2 === 1 ? sorted[mid]! : (sorted[mid - 1]! + sorted[mid]!) / 2;
};

/** Healthy shape: gas cools in the first passes, a plateau while it condenses, a fall where liquid is subcooled. */
function healthyShape(y: number, boundary: number | null): number {
  const gas = 9 * Math.exp(-y / 0.12);
  return boundary !== null && y > boundary ? -4 - (4 * (y - boundary)) / Math.max(1 - boundary, 0.05) : gas - 2 * y;
}

/**
 * What a thermal map says about the inside of the condenser. The healthy profile of the platform is taken out first, because a sound pass or
 * subcooling boundary steps too. Needs at least four heights; null otherwise.
 */
export function thermalFeatures(input: EngineInput, weather: Weather): ThermalFeatures | null {
  const stage = input.stage ?? 'before';
  const maps = input.thermalMaps.filter((m) => (m.stage ?? 'before') === stage);
  const all = maps
    .map((map) => ({ map, ...rowsOf(map, input) }))
    .sort((a, b) => b.rows.length - a.rows.length || mapKey(a.map) - mapKey(b.map));
  const best = all[0];
  if (!best || best.rows.length < 4) return null;
  const integral = input.platform.layout === 'valve-integral-receiver';
  const boundary = integral ? 1 - (input.platform.subcoolShare ?? SUBCOOL_DEFAULT) : null;
  const rest = best.rows.map((row) => ({ y: row.y, t: row.temperatureK - healthyShape(row.y, boundary) }));

  let stepK = 0;
  let stepAt = 0.5;
  let boundaryStepK: number | null = null;
  for (let i = 0; i + 1 < rest.length; i++) {
    const above = rest.slice(Math.max(0, i - 1), i + 1);
    const below = rest.slice(i + 1, i + 3);
    const step = average(above.map((r) => r.t)) - average(below.map((r) => r.t));
    const at = (rest[i]!.y + rest[i + 1]!.y) / 2;
    if (boundary !== null && Math.abs(at - boundary) <= 0.09 && (boundaryStepK === null || Math.abs(step) > Math.abs(boundaryStepK)))
      boundaryStepK = step;
    if (step > stepK) {
      stepK = step;
      stepAt = at;
    }
  }
  const condensing = best.rows.filter((r) => boundary === null || r.y < boundary);
  const coldest = Math.min(...(condensing.length > 0 ? condensing : best.rows).map((r) => r.temperatureK));
  const coldestAboveAirK = coldest - weather.condenserAir.value;
  const level = average(rest.filter(({ y }) => y < stepAt).map(({ t }) => t));
  const rows = best.rows.map(({ y, temperatureK }) => ({ height: y, temperatureK, healthyK: level + healthyShape(y, boundary) }));
  const seen = { stepK, stepAt, boundaryStepK, coldestAboveAirK };
  return {
    ...seen,
    rows: best.rows.length,
    bareMetal: best.map.bareMetal ?? false,
    picture: { ...seen, rows, boundaryAt: boundary, leftOut: best.leftOut, ...verdictOf(seen) },
  };
}

/** Whether the largest step is the one over the boundary to subcooling; then it is not counted as one inside the passes. */
const isAtBoundary = ({ stepK, boundaryStepK }: Pick<ThermalFeatures, 'stepK' | 'boundaryStepK'>) =>
  boundaryStepK !== null && Math.abs(boundaryStepK) >= stepK - 1.5;

function verdictOf(seen: Pick<ThermalFeatures, 'stepK' | 'stepAt' | 'boundaryStepK'>): Pick<ThermalPicture, 'verdict' | 'message'> {
  const size = (kelvin: number) => `${kelvin.toFixed(0)} K (${(1.8 * kelvin).toFixed(0)} °F)`;
  if (isAtBoundary(seen) && seen.boundaryStepK! > STEP_K) {
    const message = `It falls ${size(seen.boundaryStepK!)} more than a sound one where subcooling begins, that is across the cartridge.`;
    return { verdict: 'step-at-cartridge', message };
  }
  if (seen.stepK > STEP_K && !isAtBoundary(seen)) {
    const place = `${(100 * seen.stepAt).toFixed(0)} % of the height from the top`;
    return {
      verdict: 'step-inside',
      message: `It falls ${size(seen.stepK)} more than a sound one at ${place}, inside the condensing passes.`,
    };
  }
  return { verdict: 'no-step', message: `No step of more than ${size(STEP_K)} beyond what a sound condenser shows.` };
}

const average = (xs: readonly number[]) => xs.reduce((a, b) => a + b, 0) / xs.length;
const mapKey = (map: EngineThermalMap) => average([...(map.spots ?? []).map((s) => s.temperatureK), ...(map.rowsK ?? []).flat()]);

/** The features as evidence. */
export function thermalChannels(features: ThermalFeatures | null, weather: Weather): Channel[] {
  if (!features) return [];
  // Painted or taped spots are good to 2 K, bare aluminium to 6 K (common practice).
  const look = features.bareMetal ? 6 : 2.5;
  const channels: Channel[] = [];
  const size = (node: HypothesisNode) => (node.severity < 0.4 ? 0 : node.severity < 0.7 ? 1 : 2);
  const inside = isAtBoundary(features) ? 0 : features.stepK;
  channels.push({
    observation: 'pass-step',
    label: 'Largest temperature step inside the condensing passes',
    readings: [],
    seen: inside,
    expectedHealthy: 2,
    tolerance: Math.hypot(look, 2),
    unit: 'K',
    logLikelihood: (node) => {
      switch (node.code) {
        case 'condenser-passages':
        case 'sealant':
          return logDensity1(inside - [4, 10, 18][size(node)]!, Math.hypot(look, [3, 5, 8][size(node)]!), 60);
        case 'overcharge':
          return logDensity1(inside - 4, Math.hypot(look, 4), 60);
        default:
          return logDensity1(inside - 2, Math.hypot(look, 2), 60);
      }
    },
  });
  if (features.boundaryStepK !== null) {
    const step = features.boundaryStepK;
    channels.push({
      observation: 'cartridge-step',
      label: 'Temperature step across the cartridge beyond the healthy one',
      readings: [],
      seen: step,
      expectedHealthy: 0,
      tolerance: Math.hypot(look, 2.5),
      unit: 'K',
      logLikelihood: (node) => {
        switch (node.code) {
          case 'filter-cartridge':
            return logDensity1(step - [4, 9, 16][size(node)]!, Math.hypot(look, [3, 4, 7][size(node)]!), 60);
          case 'condenser-passages':
            return logDensity1(step, Math.hypot(look, 4), 60);
          case 'undercharge':
            return logDensity1(step + (node.severity > 0.35 ? 5 : 0), Math.hypot(look, 3), 60);
          default:
            return logDensity1(step, Math.hypot(look, 2.5), 60);
        }
      },
    });
  }
  const cold = features.coldestAboveAirK;
  const sd = Math.hypot(look, weather.condenserAir.sigma);
  channels.push({
    observation: 'cold-rows',
    label: 'Coldest condensing row against the air in front of it',
    readings: [],
    seen: cold,
    expectedHealthy: 14,
    tolerance: Math.hypot(sd, 5),
    unit: 'K',
    logLikelihood: (node) => {
      switch (node.code) {
        case 'condenser-passages':
          return logDensity1(cold - [10, 3, -3][size(node)]!, Math.hypot(sd, 5), 60);
        case 'undercharge':
        case 'compressor-inhibited':
          return logDensity1(cold - (node.capacityLost >= 1 ? 1 : 9), Math.hypot(sd, 5), 60);
        case 'overcharge':
          return logDensity1(cold - 8, Math.hypot(sd, 6), 60);
        case 'displacement-stuck-low':
        case 'clutch-slip':
        case 'electric-compressor-limited':
        case 'compressor-leakage':
          return logDensity1(cold - 9, Math.hypot(sd, 6), 60);
        default:
          return logDensity1(cold - 14, Math.hypot(sd, 5.5), 60);
      }
    },
  });
  return channels;
}
