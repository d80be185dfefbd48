import { BOX, CONDITIONS, TERMS, terms } from '#libs/engine/calibration/features.js';
import { fitLinear } from '#libs/engine/calibration/fit.js';
import { type CalibratedGroup, type CalibratedNode, groupKey, TRIANGLE } from '#libs/engine/calibration/model.js';
import { DIMS } from '#libs/engine/dims.js';
import type { CompressorKind, FaultCode, Layout, RefrigerantName } from '#libs/engine/index.js';

/** A condition set in SI, from scaled conditions. */
export interface SimulatedWeather {
  readonly condenserAirK: number;
  readonly evaporatorAirK: number;
  readonly relativeHumidity: number;
  readonly speed: number;
  readonly blower: number;
  readonly barometerPa: number;
}

export interface Simulated {
  /** The engine's dimensions; see dims.ts. */
  readonly dims: Float64Array;
  readonly capacityW: number;
}

/** A system model as the calibration needs it: one hardware draw (uniform numbers), one weather, one fault of one size. */
export type Simulator = (
  system: { readonly layout: Layout; readonly compressor: CompressorKind; readonly refrigerant: RefrigerantName },
  hardware: Float64Array,
  weather: SimulatedWeather,
  fault: FaultCode,
  size: number,
) => Simulated | null;

export const HARDWARE_DRAWS = 12;

/** Severity bands with their prior shares. */
const THREE: readonly (readonly [number, number, number])[] = [
  [0.15, 0.4, 0.34],
  [0.4, 0.7, 0.36],
  [0.7, 1, 0.3],
];
export function bandsOf(code: FaultCode): readonly (readonly [number, number, number])[] {
  if (code === 'healthy') return [[0, 0, 1]];
  if (code === 'undercharge') {
    return [
      [0.05, 0.16, 0.14],
      [0.16, 0.28, 0.18],
      [0.28, 0.4, 0.18],
      [0.4, 0.55, 0.18],
      [0.55, 0.7, 0.16],
    ];
  }
  if (code === 'overcharge') {
    return [
      [0.04, 0.15, 0.35],
      [0.15, 0.3, 0.4],
      [0.3, 0.5, 0.25],
    ];
  }
  return THREE;
}

/** Additive recurrence of the generalised golden ratio: evenly spread points in any number of dimensions (Roberts 2018). */
export function quasi(dimensions: number): (index: number) => Float64Array {
  let g = 1.5;
  for (let i = 0; i < 60; i++) g = (1 + g) ** (1 / (dimensions + 1));
  const alpha = Float64Array.from({ length: dimensions }, (_, k) => (1 / g) ** (k + 1) % 1);
  return (index) => Float64Array.from(alpha, (a) => (0.5 + a * (index + 1)) % 1);
}

/** Weather from uniform numbers: warm days as shops see them, cabin air coupled to outside air. */
function weatherDraw(u: Float64Array, electric: boolean): { scaled: Float64Array; weather: SimulatedWeather } {
  const condenserAirK = 288 + 32 * u[0]!;
  const outside = u[1]! < 0.4;
  const spread = (u[2]! - 0.5) * 2;
  const evaporatorAirK = outside ? condenserAirK - 1.5 + 2 * spread : Math.min(condenserAirK, 300) + 4 * spread;
  // Air out of doors never holds more than about 20 g of water a kilogram (dew point 25 C): hot air is dry.
  const celsius = evaporatorAirK - 273.15;
  const most = ((0.02 / 0.642) * 101_325) / (611.2 * Math.exp((17.62 * celsius) / (243.12 + celsius)));
  const relativeHumidity = Math.min(0.15 + 0.7 * u[3]!, Math.max(most, 0.12));
  const speed = electric ? 28 + 80 * u[4]! : 13 + 37 * u[4]!;
  const blower = u[5]! < 0.5 ? 1 : 0.45 + 0.55 * (u[5]! - 0.5) * 2;
  const barometerPa = 76_000 + 26_500 * u[6]! ** 0.5;
  const weather = { condenserAirK, evaporatorAirK, relativeHumidity, speed, blower, barometerPa };
  const scaled = Float64Array.of(
    (condenserAirK - 303) / 8,
    (evaporatorAirK - 301) / 6,
    (relativeHumidity - 0.45) / 0.2,
    Math.log(speed / 28) / 0.45,
    (blower - 0.85) / 0.2,
    (barometerPa - 97_000) / 8_000,
    0,
  );
  for (let k = 0; k < CONDITIONS; k++) scaled[k] = Math.min(Math.max(scaled[k]!, BOX[k]![0]), BOX[k]![1]);
  return { scaled, weather };
}

/** Spread the model cannot know: manufacturing, lines, airflow at the car, K and shares, one standard deviation. */
const FLOOR = [0.6, 0.6, 0.5, 0.5, 0.5, 0.6, 1.5, 0.8, 0.9, 4, 1.3, 1.3, 0.08, 0.08, 0.03];

/** Residuals beyond this many robust widths are systems in another regime; they do not widen the rest. */
const TRIM = 4;

/** Least squares, twice: the second time without samples that lie far off in any dimension (robust width: 1.4826 times the median deviation). */
function trimmedFit(F: readonly number[], Y: readonly number[]): ReturnType<typeof fitLinear> {
  const n = F.length / TERMS;
  const first = fitLinear(Float64Array.from(F), TERMS, Float64Array.from(Y), DIMS);
  const residual = (r: number, i: number) => {
    let e = Y[r * DIMS + i]!;
    for (let k = 0; k < TERMS; k++) e -= first.coefficients[i * TERMS + k]! * F[r * TERMS + k]!;
    return Math.abs(e);
  };
  const widths = Array.from({ length: DIMS }, (_, i) => {
    const sorted = Array.from({ length: n }, (_x, r) => residual(r, i)).sort((a, b) => a - b);
    return Math.max(1.4826 * sorted[n >> 1]!, 0.5 * FLOOR[i]!);
  });
  const kept = Array.from({ length: n }, (_, r) => r).filter((r) => widths.every((w, i) => residual(r, i) < TRIM * w));
  if (kept.length < 0.7 * n) return first;
  return fitLinear(
    Float64Array.from(kept.flatMap((r) => F.slice(r * TERMS, (r + 1) * TERMS))),
    TERMS,
    Float64Array.from(kept.flatMap((r) => Y.slice(r * DIMS, (r + 1) * DIMS))),
    DIMS,
  );
}

/** Fits one node from `count` quasi-random systems; null when fewer than three quarters of them settle. */
export function calibrateNode(
  simulate: Simulator,
  layout: Layout,
  compressor: CompressorKind,
  code: FaultCode,
  band: readonly [number, number, number],
  count: number,
): CalibratedNode | null {
  const electric = compressor === 'electric';
  const points = quasi(7 + HARDWARE_DRAWS + 2);
  const F: number[] = [];
  const Y: number[] = [];
  const losses: number[] = [];
  const row = new Float64Array(TERMS);
  for (let i = 0; i < count; i++) {
    const u = points(i + 17);
    const { scaled, weather } = weatherDraw(u, electric);
    const refrigerant: RefrigerantName = u[7 + HARDWARE_DRAWS]! < 0.5 ? 'R-134a' : 'R-1234yf';
    scaled[6] = refrigerant === 'R-1234yf' ? 1 : 0;
    const size = band[0] + (band[1] - band[0]) * u[8 + HARDWARE_DRAWS]!;
    const hardware = u.subarray(7, 7 + HARDWARE_DRAWS);
    const system = { layout, compressor, refrigerant };
    const got = simulate(system, hardware, weather, code, size);
    if (!got || got.dims.some((x) => !Number.isFinite(x))) continue;
    F.push(...terms(scaled, row));
    Y.push(...got.dims);
    if (code !== 'healthy') {
      const sound = simulate(system, hardware, weather, 'healthy', 0);
      if (sound && sound.capacityW > 0) losses.push(1 - got.capacityW / sound.capacityW);
    }
  }
  const settled = F.length / TERMS;
  if (settled <= 2 * TERMS || (settled < 0.75 * count && settled < 60)) return null;
  const fit = trimmedFit(F, Y);
  const covariance = new Float32Array(TRIANGLE);
  let k = 0;
  for (let i = 0; i < DIMS; i++) {
    for (let j = 0; j <= i; j++) covariance[k++] = fit.covariance[i * DIMS + j]! + (i === j ? FLOOR[i]! ** 2 : 0);
  }
  losses.sort((a, b) => a - b);
  const lost = losses.length > 0 ? Math.min(Math.max(losses[losses.length >> 1]!, 0), 1) : 0;
  return {
    code,
    severity: (band[0] + band[1]) / 2,
    share: band[2],
    capacityLost: lost,
    coefficients: Float32Array.from(fit.coefficients),
    covariance,
  };
}

/** Fits every fault of one kind of system; the sound system comes first. */
export function calibrateGroup(
  simulate: Simulator,
  layout: Layout,
  compressor: CompressorKind,
  codes: readonly FaultCode[],
  count: number,
  tick?: () => void,
): CalibratedGroup {
  const nodes: CalibratedNode[] = [];
  for (const code of ['healthy', ...codes.filter((c) => c !== 'healthy')] as FaultCode[]) {
    const fitted = bandsOf(code).map((band) =>
      calibrateNode(simulate, layout, compressor, code, band, code === 'healthy' ? 2 * count : count),
    );
    tick?.();
    // A fault is taken from simulation whole or not at all.
    if (fitted.every((n) => n !== null)) nodes.push(...(fitted as CalibratedNode[]));
  }
  return { key: groupKey(layout, compressor), nodes };
}
