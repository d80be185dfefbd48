import { ARTEFACT } from '#libs/engine/calibration/artefact.js';
import { decode } from '#libs/engine/calibration/codec.js';
import { diagnose, type EngineInput, type EngineReading, judgeReading } from '#libs/engine/index.js';
import { steadySimulator } from '#libs/engine/simulation/simulate.js';
import { fluid, saturationAtT } from '#libs/refrigerant/index.js';
import { TASKS } from '../validate/engine-build.js';
import { calibrateGroup } from '../validate/engine-calibrate.js';

/** A cost as a multiple of a reference operation measured in the same process, so that it does not hang on the machine. */
export interface BenchLine {
  readonly name: string;
  readonly ratio: number;
  readonly baseline: string;
  readonly aim: number;
  readonly detail: string;
}

const PSI = 6894.757293168;
const kelvin = (celsius: number) => celsius + 273.15;
const psig = (
  id: string,
  place: EngineReading['place'],
  phase: 'rest' | 'running',
  value: number,
  instrument: EngineReading['instrument'] = 'manifold-gauge',
): EngineReading => ({
  id,
  quantity: 'pressure',
  place,
  phase,
  instrument,
  reference: 'vented-gauge',
  value: value * PSI,
});

/** A full case: six pressures, four temperatures, two findings. */
const CASE: EngineInput = {
  platform: {
    layout: 'valve-integral-receiver',
    compressor: 'fixed-clutch',
    refrigerant: 'R-134a',
    chargeKg: 0.55,
    highSidePort: 'condenser-outlet',
    highSideTransducer: 'compressor-discharge',
    lowSidePort: 'compressor-suction',
    transducerReference: 'vented-gauge',
    dualEvaporator: false,
  },
  elevationM: 1800,
  conditions: {
    outsideAirK: kelvin(32),
    condenserAirK: kelvin(33),
    evaporatorAirK: kelvin(28),
    relativeHumidity: 0.4,
    airSource: 'recirculated',
    engineSpeedPerS: 25,
    runningS: 600,
  },
  readings: [
    psig('a', 'high-side-port', 'rest', 84),
    psig('b', 'low-side-port', 'rest', 84),
    psig('c', 'high-side-transducer', 'rest', 88, 'vehicle-transducer'),
    psig('d', 'low-side-port', 'running', 26),
    psig('e', 'high-side-port', 'running', 160),
    psig('f', 'high-side-transducer', 'running', 245, 'vehicle-transducer'),
    { id: 'g', quantity: 'temperature', place: 'vent', phase: 'running', value: kelvin(11) },
    { id: 'h', quantity: 'temperature', place: 'condenser-outlet', phase: 'running', value: kelvin(38) },
    { id: 'i', quantity: 'temperature', place: 'compressor-discharge', phase: 'running', value: kelvin(86) },
    { id: 'j', quantity: 'temperature', place: 'compressor-suction', phase: 'running', value: kelvin(10) },
  ],
  findings: [{ code: 'condenser-fins-clean' }, { code: 'condenser-fan-runs' }],
  thermalMaps: [],
  traces: [],
};

/** Seconds of processor a call, the best of five rounds: a loaded machine takes the processor away, and wall time would count that. */
function seconds(run: (i: number) => unknown, calls: number): number {
  let best = Number.POSITIVE_INFINITY;
  for (let round = 0; round < 5; round++) {
    const start = process.cpuUsage();
    for (let i = 0; i < calls; i++) run(i);
    const { user, system } = process.cpuUsage(start);
    best = Math.min(best, (user + system) / calls / 1e6);
  }
  return best;
}

/** Draws a severity in the shipped calibration, and here. */
const DRAWS = 240;
const FEW = 24;

/** What the shipped model weighs, what decoding it costs, and what building it would: one kind of system at a tenth of the draws. */
function modelLines(solve: number): BenchLine[] {
  const groups = decode(ARTEFACT);
  const decoding = seconds(() => decode(ARTEFACT), 3);
  const nodes = [...groups.values()].reduce((sum, g) => sum + g.nodes.length, 0);
  const megabytes = (ARTEFACT.header.length + ARTEFACT.data.length) / 1e6;
  const { layout, compressor, codes } = TASKS[3]!;
  const start = process.cpuUsage();
  calibrateGroup(steadySimulator(), layout, compressor, codes, FEW);
  const { user, system } = process.cpuUsage(start);
  const cpu = (user + system) / 1e6;
  // Every group fits one sound system at twice the draws beside its faults.
  const faults = TASKS.reduce((sum, t) => sum + t.codes.length + 2, 0);
  const whole = (cpu * (DRAWS / FEW) * faults) / (codes.length + 2);
  const baseline = 'one exact saturation solve, R-134a';
  return [
    { name: 'size of the model', ratio: megabytes / 2, baseline: '2 MB', aim: 1, detail: `${megabytes.toFixed(2)} MB, ${nodes} nodes` },
    { name: 'decode the model', ratio: decoding / solve, baseline, aim: 6000, detail: `${(decoding * 1e3).toFixed(1)} ms, once a process` },
    {
      name: 'build the model',
      ratio: whole / solve / 1e6,
      baseline: `a million times ${baseline}`,
      aim: 200,
      detail: `${cpu.toFixed(1)} s of processor for ${layout}/${compressor} at a tenth of the draws: about ${(whole / 60).toFixed(0)} minutes for all ${TASKS.length} kinds on one core`,
    },
  ];
}

/** Cost of a case and of judging one value, against one exact saturation solve. */
export function runEngineBench(): BenchLine[] {
  const r134a = fluid('R-134a');
  for (let i = 0; i < 200; i++) diagnose(CASE);
  const solve = seconds((i) => saturationAtT(r134a, 260 + (i % 80)), 2000);
  const known = seconds(() => diagnose(CASE), 100);
  const open = seconds(() => diagnose({ ...CASE, platform: { ...CASE.platform, highSidePort: null, highSideTransducer: null } }), 60);
  const judge = seconds(() => judgeReading(CASE.readings[3]!, { barometerPa: 81_500 }), 20_000);
  const baseline = 'one exact saturation solve, R-134a';
  const line = (name: string, cost: number, aim: number): BenchLine => ({
    name,
    ratio: cost / solve,
    baseline,
    aim,
    detail: `${(cost * 1e6).toFixed(1)} µs against ${(solve * 1e6).toFixed(2)} µs`,
  });
  return [
    line('diagnose a full case', known, 200),
    line('diagnose with port places unknown', open, 400),
    line('judge one value', judge, 1),
    ...modelLines(solve),
  ];
}
