import type { SimulatedStudy } from '#libs/contracts/index.js';

type Row = SimulatedStudy['bySet'][number];
/** Shares in per cent: first answer right, among the first three, false alarm, missed, misdiagnosed, no response. */
type Percents = readonly [number, number, number, number, number, number];
function row(name: string, n: number, percents: Percents, logLoss: number, slope: number): Row {
  const [top1, top3, falseAlarms, missed, misdiagnosed, noResponse] = percents.map((p) => p / 100) as unknown as Percents;
  return { name, n, top1, top3, falseAlarms, missed, misdiagnosed, noResponse, logLoss, slope };
}

/** The study of docs/validation.md as data: printed by `tests/validate/engine-study.ts`, 600 cases an observation set. */
export const SIMULATED_STUDY: SimulatedStudy = {
  engineVersion: 'engine-2+c2',
  statement:
    'Measured on simulated systems, not on vehicles. Accuracy on simulated systems is no accuracy in the field: it is an upper bound until repairs have been proved.',
  split:
    'Another simulator than the one the engine was fitted to, with its own equations, constants, hardware draws, instruments and fault frequencies; seeds 1 to about 600 for each observation set.',
  bySet: [
    row('gauges', 600, [60.5, 84.3, 0, 42.2, 19.9, 86.3], 1.94, 1.38),
    row('gauges-transducer', 600, [61.5, 87.7, 1.3, 33.5, 20.1, 77.7], 1.75, 1.3),
    row('temperatures', 600, [67.2, 87.8, 3.9, 28.6, 15.2, 59.7], 1.56, 1.02),
    row('full', 600, [76.7, 93.5, 3.9, 15.3, 10.5, 43], 1.04, 1.08),
  ],
  byLayout: [
    row('orifice-accumulator', 628, [67.2, 89, 2.6, 35.9, 11.6, 69.3], 1.57, 1.39),
    row('valve-receiver', 596, [65.6, 89.9, 2.6, 24.7, 15.8, 63.9], 1.43, 1.04),
    row('valve-integral-receiver', 1176, [66.5, 87.2, 1.9, 27.6, 18.3, 66.7], 1.64, 1.27),
  ],
};
