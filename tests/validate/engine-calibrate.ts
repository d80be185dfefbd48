import { BOX, CONDITIONS, TERMS, terms } from '#libs/engine/calibration/features.js';
import { fitLinear } from '#libs/engine/calibration/fit.js';
import { type CalibratedGroup, type CalibratedNode, GATE_TERMS, groupKey, TRIANGLE } from '#libs/engine/calibration/model.js';
import { DIMS } from '#libs/engine/dims.js';
import { precision } from '#libs/engine/gaussian.js';
import type { CompressorKind, FaultCode, Layout, RefrigerantName } from '#libs/engine/index.js';
import { FLOOR, quasi, severitiesOf } from '#libs/engine/simulation/draws.js';
import { HARDWARE_DRAWS, type SimulatedWeather, type Simulator } from '#libs/engine/simulation/simulate.js';

/** Weather from uniform numbers: warm days as shops see them, cabin air coupled to outside air. */
export function weatherDraw(u: Float64Array, electric: boolean): { scaled: Float64Array; weather: SimulatedWeather } {
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

/** Share and number of systems below which a regime joins the largest. */
const LEAST_SHARE = 0.12;
const LEAST_COUNT = 3 * TERMS;

/** Regimes worth a fit of their own, largest first; the others join the largest. */
function regimesOf(names: readonly string[]): { readonly names: readonly string[]; readonly of: (name: string) => number } {
  const counts = new Map<string, number>();
  for (const name of names) counts.set(name, (counts.get(name) ?? 0) + 1);
  const kept = [...counts]
    .sort((a, b) => b[1] - a[1] || (a[0] < b[0] ? -1 : 1))
    .filter(([, n], i) => i === 0 || (n >= LEAST_COUNT && n >= LEAST_SHARE * names.length))
    .map(([name]) => name);
  return { names: kept, of: (name) => Math.max(kept.indexOf(name), 0) };
}

interface Sample {
  readonly scaled: Float64Array;
  readonly dims: Float64Array;
  readonly regime: string;
}

/** Fits one severity from `count` quasi-random systems, one node a regime; null when fewer than three quarters of them settle. */
export function calibrateNode(
  simulate: Simulator,
  layout: Layout,
  compressor: CompressorKind,
  code: FaultCode,
  band: readonly [number, number, number],
  index: number,
  count: number,
): CalibratedNode[] | null {
  const electric = compressor === 'electric';
  const points = quasi(7 + HARDWARE_DRAWS + 2);
  const samples: Sample[] = [];
  const losses: number[] = [];
  for (let i = 0; i < count; i++) {
    const u = points(i + 17);
    const { scaled, weather } = weatherDraw(u, electric);
    const refrigerant: RefrigerantName = u[7 + HARDWARE_DRAWS]! < 0.5 ? 'R-134a' : 'R-1234yf';
    scaled[6] = refrigerant === 'R-1234yf' ? 1 : 0;
    const size = band[0] + (band[1] - band[0]) * u[8 + HARDWARE_DRAWS]!;
    const hardware = u.subarray(7, 7 + HARDWARE_DRAWS);
    const system = { layout, compressor, refrigerant };
    // A system that is not sound in this weather without the fault is no vehicle to put the fault into.
    const sound = simulate(system, hardware, weather, 'healthy', 0);
    if (!sound) continue;
    const got = code === 'healthy' ? sound : simulate(system, hardware, weather, code, size);
    if (!got || got.dims.some((x) => !Number.isFinite(x))) continue;
    samples.push({ scaled, dims: got.dims, regime: got.regime });
    if (code !== 'healthy' && sound.capacityW > 0) losses.push(1 - got.capacityW / sound.capacityW);
  }
  const settled = samples.length;
  if (settled <= 2 * TERMS || (settled < 0.6 * count && settled < 60)) return null;
  losses.sort((a, b) => a - b);
  const lost = losses.length > 0 ? Math.min(Math.max(losses[losses.length >> 1]!, 0), 1) : 0;
  const away = losses.map((x) => Math.abs(x - lost)).sort((a, b) => a - b);
  const lossSigma = away.length > 0 ? 1.4826 * away[away.length >> 1]! : 0;
  const regimes = regimesOf(samples.map((x) => x.regime));
  const gates = fitGates(
    samples.map((x) => x.scaled),
    samples.map((x) => regimes.of(x.regime)),
    regimes.names.length,
  );
  return regimes.names.map((_, r) => {
    const own = samples.filter((x) => regimes.of(x.regime) === r);
    const row = new Float64Array(TERMS);
    const fit = trimmedFit(
      own.flatMap((x) => [...terms(x.scaled, row)]),
      own.flatMap((x) => [...x.dims]),
    );
    const covariance = new Float32Array(TRIANGLE);
    let k = 0;
    for (let i = 0; i < DIMS; i++) {
      for (let j = 0; j <= i; j++) covariance[k++] = fit.covariance[i * DIMS + j]! + (i === j ? FLOOR[i]! ** 2 : 0);
    }
    return {
      code,
      severity: (band[0] + band[1]) / 2,
      share: band[2],
      band: index,
      regimeShare: own.length / settled,
      gate: gates[r]!,
      capacityLost: lost,
      lossSigma,
      coefficients: Float32Array.from(fit.coefficients),
      covariance,
    };
  });
}

/** Multinomial logit of the regimes on the conditions, the first as reference, with a ridge; climbs by the fixed bound X'X / 2 (Boehning 1992). */
export function fitGates(conditions: readonly Float64Array[], regime: readonly number[], regimes: number): Float32Array[] {
  const weights = Array.from({ length: regimes }, () => new Float64Array(GATE_TERMS));
  if (regimes > 1) {
    const rows = conditions.map((c) => Float64Array.of(1, ...c));
    const bound = new Float64Array(GATE_TERMS * GATE_TERMS);
    for (const x of rows)
      for (let i = 0; i < GATE_TERMS; i++) for (let j = 0; j < GATE_TERMS; j++) bound[i * GATE_TERMS + j]! += (x[i]! * x[j]!) / 2;
    const ridge = 0.5;
    for (let i = 0; i < GATE_TERMS; i++) bound[i * GATE_TERMS + i]! += ridge;
    const { inverse } = precision(bound, GATE_TERMS);
    for (let step = 0; step < 200; step++) {
      const slope = weights.map((w) => w.map((x, i) => (i === 0 ? 0 : -ridge * x)));
      rows.forEach((x, n) => {
        const e = weights.map((w) => Math.exp(w.reduce((sum, b, i) => sum + b * x[i]!, 0)));
        const total = e.reduce((a, b) => a + b, 0);
        for (let r = 1; r < regimes; r++) {
          const miss = (regime[n] === r ? 1 : 0) - e[r]! / total;
          for (let i = 0; i < GATE_TERMS; i++) slope[r]![i]! += miss * x[i]!;
        }
      });
      for (let r = 1; r < regimes; r++) {
        for (let i = 0; i < GATE_TERMS; i++)
          for (let j = 0; j < GATE_TERMS; j++) weights[r]![i]! += inverse[i * GATE_TERMS + j]! * slope[r]![j]!;
      }
    }
  }
  return weights.map((w) => Float32Array.from(w));
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
  let band = 0;
  for (const code of ['healthy', ...codes.filter((c) => c !== 'healthy')] as FaultCode[]) {
    const fitted = severitiesOf(code).map((limits) =>
      calibrateNode(simulate, layout, compressor, code, limits, band++, code === 'healthy' ? 2 * count : count),
    );
    tick?.();
    // A fault is taken from simulation whole or not at all.
    if (fitted.every((n) => n !== null)) nodes.push(...(fitted as CalibratedNode[][]).flat());
  }
  return { key: groupKey(layout, compressor), nodes };
}
