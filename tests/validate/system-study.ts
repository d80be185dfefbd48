import { pathToFileURL } from 'node:url';
import { sfc32 } from '#libs/numeric/index.js';
import {
  type CondenserAir,
  type Conditions,
  type Fault,
  faultApplies,
  type PlatformHardware,
  randomHardware,
  SIMULATED_FAULTS,
  type SystemResult,
  solveSystem,
} from '#libs/system/index.js';

/**
 * Random platforms x conditions x faults: how many steady states are found, and what ends the others. Run after a build:
 *
 *   node dist/tests/validate/system-study.js [cases]
 */
export interface SystemStudy {
  readonly cases: number;
  readonly verdicts: Readonly<Record<string, number>>;
  readonly reasons: Readonly<Record<string, number>>;
  readonly regimes: Readonly<Record<string, number>>;
  readonly notFinite: number;
  readonly worstEnergy: number;
  readonly worstMass: number;
  readonly worstFlow: number;
  readonly evaluations: number;
  readonly seconds: number;
  /** Cases neither solved nor declared, to look at. */
  readonly open: readonly { readonly seed: number; readonly faults: readonly Fault[]; readonly residual: number }[];
}

export interface StudyCase {
  readonly hardware: PlatformHardware;
  readonly conditions: Conditions;
  readonly faults: readonly Fault[];
}

/** Case of a seed: a third of the compressor's speed range, weather from 15 to 46 °C, any humidity and elevations up to 2,200 m, none to two faults. */
export function studyCase(seed: number): StudyCase {
  const rng = sfc32(seed).uniform;
  const within = (a: number, b: number): number => a + (b - a) * rng();
  const hardware = randomHardware(rng);
  const ambient = within(288, 319);
  const recirculated = rng() < 0.6;
  const conditions: Conditions = {
    condenserAirTemperature: ambient + within(0, 4),
    evaporatorAirTemperature: recirculated ? within(291, 304) : ambient,
    evaporatorAirHumidity: within(0.15, recirculated ? 0.7 : 0.6),
    barometricPressure: within(78_000, 103_000),
    compressorSpeed: hardware.compressor.kind === 'electric' ? within(40, 120) : within(14, 50),
    condenserAir: (['fan', 'fan-and-shop-fan', 'road'] satisfies CondenserAir[])[Math.floor(rng() * 3)]!,
    blower: within(0.4, 1),
    outsideTemperature: ambient,
    outsideHumidity: within(0.2, 0.6),
    command: rng() < 0.7 ? 1 : within(0.3, 1),
  };
  const codes = SIMULATED_FAULTS.filter((code) => code !== 'compressor-inhibited' && faultApplies(code, hardware));
  const draw = rng();
  const count = draw < 0.12 ? 0 : draw < 0.8 ? 1 : 2;
  const faults: Fault[] = Array.from({ length: count }, () => ({
    code: codes[Math.floor(rng() * codes.length)]!,
    severity: rng(),
    place: within(0.1, 0.9),
  }));
  return { hardware, conditions, faults };
}

/** Every number a result holds. */
export function numbersOf(result: SystemResult): number[] {
  const out: number[] = [];
  const visit = (value: unknown): void => {
    if (typeof value === 'number') out.push(value);
    else if (value && typeof value === 'object')
      for (const one of ArrayBuffer.isView(value) ? (value as Float64Array) : Object.values(value)) visit(one);
  };
  visit([result.readings, result.cycle, result.closure]);
  return out;
}

export function runSystemStudy(cases: number, firstSeed = 1): SystemStudy {
  const verdicts: Record<string, number> = {};
  const reasons: Record<string, number> = {};
  const regimes: Record<string, number> = {};
  const open: { seed: number; faults: readonly Fault[]; residual: number }[] = [];
  let notFinite = 0;
  let worstEnergy = 0;
  let worstMass = 0;
  let worstFlow = 0;
  let evaluations = 0;
  const start = performance.now();
  for (let seed = firstSeed; seed < firstSeed + cases; seed++) {
    const { hardware, conditions, faults } = studyCase(seed);
    const result = solveSystem(hardware, conditions, faults);
    verdicts[result.verdict] = (verdicts[result.verdict] ?? 0) + 1;
    if (result.reason) reasons[result.reason] = (reasons[result.reason] ?? 0) + 1;
    for (const [name, on] of Object.entries(result.regimes)) {
      const key = typeof on === 'string' ? `vessel ${on}` : name;
      if (on) regimes[key] = (regimes[key] ?? 0) + 1;
    }
    if (result.verdict === 'not-converged') open.push({ seed, faults, residual: result.residual });
    if (!numbersOf(result).every(Number.isFinite)) notFinite++;
    if (result.verdict === 'converged') {
      worstEnergy = Math.max(worstEnergy, Math.abs(result.closure.energy));
      worstMass = Math.max(worstMass, Math.abs(result.closure.mass));
      worstFlow = Math.max(worstFlow, Math.abs(result.closure.flow));
    }
    evaluations += result.evaluations;
  }
  const seconds = (performance.now() - start) / 1000;
  return { cases, verdicts, reasons, regimes, notFinite, worstEnergy, worstMass, worstFlow, evaluations, seconds, open };
}

if (process.argv[1] && import.meta.url === pathToFileURL(process.argv[1]).href) {
  const study = runSystemStudy(Number(process.argv[2] ?? 20_000));
  const share = (n: number): string => `${((100 * n) / study.cases).toFixed(2)} %`;
  console.log(
    `${study.cases} cases in ${study.seconds.toFixed(1)} s, ${(study.evaluations / study.cases).toFixed(1)} evaluations a case (platform sizing included in time only)`,
  );
  for (const [name, n] of Object.entries(study.verdicts)) console.log(`  ${name.padEnd(18)} ${share(n)}`);
  for (const [name, n] of Object.entries(study.reasons)) console.log(`    ${name.padEnd(32)} ${share(n)}`);
  for (const [name, n] of Object.entries(study.regimes)) console.log(`  in regime ${name.padEnd(22)} ${share(n)}`);
  console.log(
    `  not finite ${study.notFinite}; worst closure: energy ${study.worstEnergy.toExponential(1)}, mass ${study.worstMass.toExponential(1)}, flow ${study.worstFlow.toExponential(1)}`,
  );
  for (const one of study.open.slice(0, 20))
    console.log(
      `  open: seed ${one.seed} residual ${one.residual.toExponential(1)} ${one.faults.map((f) => `${f.code} ${f.severity.toFixed(2)}`).join(' + ')}`,
    );
}
