import { pathToFileURL } from 'node:url';
import { fluid, fluidTables, saturationAtP } from '#libs/refrigerant/index.js';
import { type Conditions, type Fault, type PlatformHardware, type SolverPoint, solveSystem, typicalHardware } from '#libs/system/index.js';

/** A cost as a multiple of a reference operation measured in the same process, so that it does not hang on the machine: small is fast. */
export interface BenchLine {
  readonly name: string;
  /** Cost of one call, as a multiple of the baseline's. */
  readonly ratio: number;
  readonly baseline: string;
  /** The ratio must not exceed this. */
  readonly aim: number;
  readonly detail: string;
}

const COUNT = 512;
const walk = (i: number, from: number, to: number): number => from + ((to - from) * ((i * 2654435761) % 4294967296)) / 4294967296;

/** Weather and severity that walk over an ordinary summer. */
function conditionsAt(i: number, base: Conditions): Conditions {
  return {
    ...base,
    condenserAirTemperature: walk(i, 300, 315),
    evaporatorAirTemperature: walk(i * 3 + 1, 296, 304),
    evaporatorAirHumidity: walk(i * 5 + 2, 0.3, 0.6),
  };
}
const BASE: Conditions = {
  condenserAirTemperature: 308,
  evaporatorAirTemperature: 300,
  evaporatorAirHumidity: 0.5,
  barometricPressure: 101_325,
  compressorSpeed: 25,
  condenserAir: 'fan',
  blower: 1,
};
const faultsAt = (i: number): Fault[] => [{ code: 'condenser-dirt', severity: walk(i * 7 + 3, 0, 0.8) }];

/** Median seconds of one solve; a step in severity away from `start` when warm. */
function solveSeconds(hardware: PlatformHardware, warm: boolean): { median: number; evaluations: number } {
  const starts: (SolverPoint | null)[] = [];
  for (let i = 0; i < COUNT; i++) {
    const conditions = conditionsAt(i, BASE);
    starts.push(
      warm
        ? solveSystem(hardware, conditions, [{ code: 'condenser-dirt', severity: Math.max(0, faultsAt(i)[0]!.severity - 0.1) }]).point
        : null,
    );
  }
  const times: number[] = [];
  let evaluations = 0;
  for (let round = 0; round < 3; round++)
    for (let i = 0; i < COUNT; i++) {
      const conditions = conditionsAt(i, BASE);
      const start = performance.now();
      const result = solveSystem(hardware, conditions, faultsAt(i), starts[i] ?? null);
      times.push(performance.now() - start);
      evaluations += result.evaluations;
      if (result.verdict === 'not-converged') throw new Error('a solve of the bench did not converge');
    }
  times.sort((a, b) => a - b);
  return { median: times[times.length >> 1]! / 1000, evaluations: evaluations / times.length };
}

function seconds(run: (i: number) => number, calls: number): number {
  let best = Number.POSITIVE_INFINITY;
  let sum = 0;
  for (let round = 0; round < 5; round++) {
    const start = performance.now();
    for (let i = 0; i < calls; i++) sum += run(i);
    best = Math.min(best, (performance.now() - start) / calls / 1000);
  }
  if (!Number.isFinite(sum)) throw new Error('a property was not finite');
  return best;
}

/** Cost of one solve of the whole system against one table look-up and one exact saturation solve. Takes about five seconds. */
export function runSystemBench(): BenchLine[] {
  const tables = fluidTables('R-134a');
  const exact = fluid('R-134a');
  const pressures = Float64Array.from({ length: 4096 }, (_, i) => walk(i, 2e5, 25e5));
  const look = seconds((i) => tables.tSat(pressures[i & 4095]!), 400_000);
  const saturation = seconds((i) => saturationAtP(exact, pressures[i & 4095]!).T, 4_000);
  const lines: BenchLine[] = [];
  for (const [layout, kind] of [
    ['orifice-accumulator', 'fixed-clutch'],
    ['valve-receiver', 'variable'],
    ['valve-integral-receiver', 'fixed-clutch'],
  ] as const) {
    const hardware = typicalHardware(layout, kind, 'R-134a');
    for (const warm of [true, false]) {
      const { median, evaluations } = solveSeconds(hardware, warm);
      const detail = `${(median * 1e3).toFixed(3)} ms, ${(1 / median).toFixed(0)} solves/s on one core, ${evaluations.toFixed(1)} evaluations`;
      const name = `${layout}, ${kind}: solve ${warm ? 'from a neighbour' : 'from nothing'}`;
      // The aim of 0.5 ms at 0.1 µs a look-up would be 5,000 look-ups; measured 600 to 2,400 warm and 1,100 to 3,500 from nothing, as the machine is loaded.
      lines.push({ name, ratio: median / look, baseline: 'tSat(p) from the table', aim: warm ? 4_000 : 6_000, detail });
      if (warm) lines.push({ name, ratio: median / saturation, baseline: 'exact saturation at p', aim: 4, detail });
    }
  }
  return lines;
}

if (process.argv[1] && import.meta.url === pathToFileURL(process.argv[1]).href)
  for (const line of runSystemBench())
    console.log(
      `${line.ratio <= line.aim ? 'ok  ' : 'SLOW'} ${line.name}: ${line.ratio.toPrecision(3)} x ${line.baseline} (aim ${line.aim}); ${line.detail}`,
    );
