import { writeFileSync } from 'node:fs';
import { alikeKey } from '#libs/engine/alike.js';
import { localBarometer } from '#libs/engine/barometer.js';
import { circuitOf } from '#libs/engine/calibration/circuit.js';
import { CALIBRATION_VERSION, currentCalibration } from '#libs/engine/calibration/current.js';
import { canonical } from '#libs/engine/canonical.js';
import { DIMS, TV } from '#libs/engine/dims.js';
import { twinsOf } from '#libs/engine/groups.js';
import type { CompressorKind, EngineInput, EngineReading, FaultCode, HypothesisCode, Layout, Place } from '#libs/engine/index.js';
import { measure } from '#libs/engine/measure.js';
import type { HypothesisNode } from '#libs/engine/node.js';
import { seatings } from '#libs/engine/places.js';
import { circuitLikelihoods } from '#libs/engine/posterior.js';
import { priorOf } from '#libs/engine/priors.js';
import { quasi, severitiesOf } from '#libs/engine/simulation/draws.js';
import { HARDWARE_DRAWS, type Simulated, steadySimulator } from '#libs/engine/simulation/simulate.js';
import { weatherOf } from '#libs/engine/weather.js';
import { weatherDraw } from './engine-calibrate.js';
import { between, normal, type Random, random } from './engine-draws.js';

/**
 * Which faults the readings cannot tell apart, by the calibration's own draws and never by the judging model:
 * `node dist/tests/validate/engine-alike.js libs/engine/calibration/alike-table.ts`. Deterministic.
 *
 * Two faults are alike when, at even odds and both at sizes that cost at least 5 % of capacity, of efficiency or of the air's cooling, the better likelihood
 * names the right one in fewer than four of five draws. Classes: complete linkage (every pair in a class is alike), the pair most often mistaken for each other
 * by the start values first, four faults at most.
 */
const TOLD_APART = 0.8;
const MOST = 4;
const COSTS = 0.05;
const WEATHERS = 32;
const DRAWS = 16;
const SIZES_FROM = 32;

type Level = 'gauges' | 'transducer' | 'temperatures';
const LEVELS: readonly Level[] = ['gauges', 'transducer', 'temperatures'];

/** Middle of a severity band as the calibration writes it. */
const bandMiddle = (x: number) => Math.round(x * 1e4) / 1e4;

/** Severities of each simulated fault that cost enough on the median system of a kind; middle of the band. */
function costlySizes(layout: Layout, compressor: CompressorKind, codes: readonly FaultCode[]): Map<FaultCode, Set<number>> {
  const simulate = steadySimulator();
  const points = quasi(7 + HARDWARE_DRAWS + 2);
  const out = new Map<FaultCode, Set<number>>();
  for (const code of codes) {
    for (const [low, high] of severitiesOf(code)) {
      const losses: number[] = [];
      for (let i = 0; i < SIZES_FROM; i++) {
        const u = points(i + 17);
        const { weather } = weatherDraw(u, compressor === 'electric');
        const system = { layout, compressor, refrigerant: i % 2 === 0 ? ('R-134a' as const) : ('R-1234yf' as const) };
        const hardware = u.subarray(7, 7 + HARDWARE_DRAWS);
        const sound = simulate(system, hardware, weather, 'healthy', 0);
        const got = sound && simulate(system, hardware, weather, code, low + (high - low) * u[8 + HARDWARE_DRAWS]!);
        if (!sound || !got) continue;
        const efficiency = got.capacityW / Math.max(got.powerW, 1) / (sound.capacityW / Math.max(sound.powerW, 1));
        // The cooling of the air: inlet less vent.
        const cooled = (s: Simulated) => Math.max(weather.evaporatorAirK - s.dims[TV]!, 0);
        losses.push(1 - Math.min(got.capacityW / sound.capacityW, efficiency, cooled(got) / Math.max(cooled(sound), 1)));
      }
      losses.sort((a, b) => a - b);
      if (losses.length > 0 && losses[losses.length >> 1]! >= COSTS)
        out.set(code, (out.get(code) ?? new Set()).add(bandMiddle((low + high) / 2)));
    }
  }
  return out;
}

/**
 * A case as shops read them: outside air always written down, every other condition and the discharge temperature in half of the cases; gauge and transducer
 * on either side of the condenser.
 */
function caseAt(u: Random, layout: Layout, compressor: CompressorKind, level: Level, driven: boolean, index: number): EngineInput {
  const upstream: Place = index % 2 === 0 ? 'condenser-inlet' : 'condenser-outlet';
  const downstream: Place = index % 2 === 0 ? 'condenser-outlet' : 'condenser-inlet';
  const lowSide: Place = layout === 'orifice-accumulator' ? 'accumulator' : 'compressor-suction';
  const readings: EngineReading[] = [];
  const add = (r: Omit<EngineReading, 'id'>) => readings.push({ id: `r${readings.length}`, ...r });
  const pressure = (place: Place, instrument: EngineReading['instrument']) =>
    add({ quantity: 'pressure', place, phase: 'running', instrument, reference: 'vented-gauge', value: 8e5 });
  const temperature = (place: Place) => add({ quantity: 'temperature', place, phase: 'running', instrument: 'thermometer', value: 300 });
  pressure('low-side-port', 'manifold-gauge');
  pressure('high-side-port', 'manifold-gauge');
  temperature('vent');
  if (level !== 'gauges') pressure('high-side-transducer', 'vehicle-transducer');
  if (level === 'temperatures') for (const place of [lowSide, 'condenser-outlet'] as const) temperature(place);
  if (level === 'temperatures' && u() < 0.5) temperature('compressor-discharge');
  if (driven && compressor === 'electric') {
    add({ quantity: 'speed', meaning: 'compressor-speed', value: 60 });
    add({ quantity: 'speed', meaning: 'compressor-speed-requested', value: 60 });
  } else if (driven) add({ quantity: 'fraction', meaning: 'compressor-command', value: 0.5 });
  const outsideAirK = between(u, 293, 313);
  const recirculated = u() < 0.6;
  const half = <T extends object>(written: T): T | Record<string, never> => (u() < 0.5 ? written : {});
  return {
    platform: {
      layout,
      compressor: driven && compressor === 'variable' ? 'variable-commanded' : compressor,
      refrigerant: index % 4 < 2 ? 'R-134a' : 'R-1234yf',
      chargeKg: 0.6,
      highSidePort: upstream,
      highSideTransducer: downstream,
      lowSidePort: lowSide,
      transducerReference: 'vented-gauge',
      dualEvaporator: false,
    },
    elevationM: between(u, 0, 1500),
    conditions: {
      outsideAirK,
      ...half({ condenserAirK: outsideAirK + 2 }),
      ...half({ evaporatorAirK: recirculated ? Math.min(outsideAirK, 300) + between(u, -2, 2) : outsideAirK }),
      ...half({ relativeHumidity: between(u, 0.25, 0.65) }),
      ...half({ airSource: recirculated ? ('recirculated' as const) : ('outside' as const) }),
      ...half(compressor === 'electric' ? { compressorSpeedPerS: between(u, 40, 90) } : { engineSpeedPerS: between(u, 15, 30) }),
      ...half({ blower: 1 }),
      runningS: 600,
    },
    readings,
    findings: [],
    thermalMaps: [],
    traces: [],
  };
}

/** Lower triangle L with L L' = A. */
function root(A: Float64Array, d: number): Float64Array {
  const L = new Float64Array(d * d);
  for (let j = 0; j < d; j++) {
    for (let i = j; i < d; i++) {
      let sum = A[i * d + j]!;
      for (let k = 0; k < j; k++) sum -= L[i * d + k]! * L[j * d + k]!;
      L[i * d + j] = i === j ? Math.sqrt(Math.max(sum, 1e-9)) : sum / L[j * d + j]!;
    }
  }
  return L;
}

/** Shares of draws in which the better likelihood names the right one of two faults at even odds. */
class Pairs {
  private readonly won = new Map<string, number>();
  private readonly all = new Map<string, number>();

  add(truth: FaultCode, likelihoods: ReadonlyMap<FaultCode, number>): void {
    const own = likelihoods.get(truth)!;
    for (const [other, l] of likelihoods) {
      if (other === truth) continue;
      const key = `${truth} ${other}`;
      this.won.set(key, (this.won.get(key) ?? 0) + (own > l ? 1 : own === l ? 0.5 : 0));
      this.all.set(key, (this.all.get(key) ?? 0) + 1);
    }
  }

  apart(a: FaultCode, b: FaultCode): number {
    const share = (key: string) => this.won.get(key)! / this.all.get(key)!;
    return (share(`${a} ${b}`) + share(`${b} ${a}`)) / 2;
  }
}

/** Complete linkage under `limit`, by falling `mistaken`; ties by name. */
export function linkage<T extends string>(
  codes: readonly T[],
  apart: (a: T, b: T) => number,
  mistaken: (a: T, b: T) => number,
  limit: number,
  most: number,
): T[][] {
  let classes = [...codes].sort().map((code) => [code]);
  for (;;) {
    let best: { readonly mistaken: number; readonly i: number; readonly j: number } | null = null;
    for (let i = 0; i < classes.length; i++) {
      for (let j = i + 1; j < classes.length; j++) {
        const pairs = classes[i]!.flatMap((a) => classes[j]!.map((b) => [a, b] as const));
        if (classes[i]!.length + classes[j]!.length > most || pairs.some(([a, b]) => apart(a, b) >= limit)) continue;
        const often = pairs.reduce((sum, [a, b]) => sum + mistaken(a, b), 0) / pairs.length;
        if (!best || often > best.mistaken) best = { mistaken: often, i, j };
      }
    }
    if (!best) return classes.filter((c) => c.length > 1);
    const { i, j } = best;
    const joined = [...classes[i]!, ...classes[j]!].sort();
    classes = [...classes.filter((_, k) => k !== i && k !== j), joined];
  }
}

function pairsAt(
  layout: Layout,
  compressor: CompressorKind,
  level: Level,
  driven: boolean,
  costly: ReadonlyMap<FaultCode, ReadonlySet<number>>,
): { readonly key: string; readonly classes: FaultCode[][] } {
  const u = random(20_261_128);
  const pairs = new Pairs();
  let key = '';
  let prior: ReadonlyMap<HypothesisCode, number> = new Map();
  for (let w = 0; w < WEATHERS; w++) {
    const input = caseAt(u, layout, compressor, level, driven, w);
    const barometer = localBarometer(input.conditions, input.elevationM);
    const { readings } = canonical(input, barometer.pressurePa);
    const measured = measure(input, readings, seatings(input.platform)[0]!, barometer);
    const { present } = measured;
    key = alikeKey(input.platform, present);
    prior = priorOf(input);
    const { healthy, faults } = circuitOf(input.platform, weatherOf({ ...input, readings }, barometer), currentCalibration(), present);
    const members = new Map<FaultCode, HypothesisNode[]>();
    for (const node of faults) {
      const code = node.code as FaultCode;
      // Beside the simulated sizes those that the engine tabulates beyond them.
      const costs = node.simulated ? costly.get(code)?.has(bandMiddle(node.severity)) : costly.has(code) && node.capacityLost >= COSTS;
      if (costs) members.set(code, [...(members.get(code) ?? []), node]);
    }
    const weighed = [...members.values()].flat();
    const twins = twinsOf(weighed);
    const d = present.length;
    for (const [code, nodes] of members) {
      const roots = nodes.map(({ spread }) => {
        const A = new Float64Array(d * d);
        present.forEach((i, a) => {
          present.forEach((j, b) => {
            const k = i * DIMS + j;
            A[a * d + b] = healthy.covariance[k]! + measured.noise[k]! + (spread === null ? 0 : spread[k]!);
          });
        });
        return root(A, d);
      });
      const total = nodes.reduce((sum, n) => sum + n.share, 0);
      for (let r = 0; r < DRAWS; r++) {
        let at = u() * total;
        let n = 0;
        while (n < nodes.length - 1 && at > nodes[n]!.share) at -= nodes[n++]!.share;
        const z = Float64Array.from({ length: d }, () => normal(u));
        const x = new Float64Array(DIMS).fill(Number.NaN);
        present.forEach((i, a) => {
          let sum = nodes[n]!.mean[i]!;
          for (let b = 0; b <= a; b++) sum += roots[n]![a * d + b]! * z[b]!;
          x[i] = sum;
        });
        const logs = circuitLikelihoods(weighed, twins, healthy, { ...measured, x });
        const best = Math.max(...logs);
        const sums = new Map<FaultCode, { likelihood: number; share: number }>();
        weighed.forEach((node, i) => {
          const held = sums.get(node.code as FaultCode) ?? { likelihood: 0, share: 0 };
          held.likelihood += node.share * Math.exp(logs[i]! - best);
          held.share += node.share;
          sums.set(node.code as FaultCode, held);
        });
        pairs.add(code, new Map([...sums].map(([c, s]) => [c, s.likelihood / s.share])));
      }
    }
  }
  const apart = (a: FaultCode, b: FaultCode) => pairs.apart(a, b);
  const mistaken = (a: FaultCode, b: FaultCode) => Math.min(prior.get(a)!, prior.get(b)!) * (1 - apart(a, b));
  return { key, classes: linkage([...costly.keys()], apart, mistaken, TOLD_APART, MOST) };
}

/** Every row of the table. */
function build(tick: (key: string) => void): Map<string, FaultCode[][]> {
  const out = new Map<string, FaultCode[][]>();
  for (const [group, { nodes }] of currentCalibration()) {
    const [layout, compressor] = group.split('/') as [Layout, CompressorKind];
    const codes = [...new Set(nodes.map((n) => n.code))].filter((code) => code !== 'healthy');
    const costly = costlySizes(layout, compressor, codes);
    for (const level of LEVELS) {
      for (const driven of compressor === 'fixed-clutch' ? [false] : [false, true]) {
        const { key, classes } = pairsAt(layout, compressor, level, driven, costly);
        out.set(key, classes);
        tick(key);
      }
    }
  }
  return out;
}

if (process.argv[1]?.replaceAll('\\', '/').includes('/validate/engine-alike.')) {
  const target = process.argv[2];
  if (!target) throw new Error('usage: engine-alike <target.ts>');
  const table = build((key) => process.stderr.write(`${key}\n`));
  const lines = [
    "import type { FaultCode } from '../codes.js';",
    '',
    `/** Written by tests/validate/engine-alike.ts from the draws of calibration ${CALIBRATION_VERSION}; not edited by hand. */`,
    'export const ALIKE: Readonly<Record<string, readonly (readonly FaultCode[])[]>> = {',
    ...[...table].map(([key, classes]) => `  '${key}': [${classes.map((c) => `[${c.map((x) => `'${x}'`).join(', ')}]`).join(', ')}],`),
    '};',
    '',
  ];
  writeFileSync(target, lines.join('\n'));
}
