import type { SimulatedStudy } from '#libs/contracts/index.js';

type Row = SimulatedStudy['bySet'][number];
/** Shares in per cent: first answer right, among the first three, false alarm, missed, misdiagnosed, no response. */
type Percents = readonly [number, number, number, number, number, number];
function row(name: string, n: number, percents: Percents, logLoss: number, slope: number): Row {
  const [top1, top3, falseAlarms, missed, misdiagnosed, noResponse] = percents.map((p) => p / 100) as unknown as Percents;
  return { name, n, top1, top3, falseAlarms, missed, misdiagnosed, noResponse, logLoss, slope };
}

/** The study of docs/validation.md as data: printed by `tests/validate/engine-report.ts`, 5,000 cases in the full set. */
export const SIMULATED_STUDY: SimulatedStudy = {
  engineVersion: 'engine-5+c3-9dd46da0',
  statement:
    'Measured on simulated systems, not on vehicles. Accuracy on simulated systems is no accuracy in the field: it is an upper bound until repairs have been proved.',
  split:
    'Another simulator than the one the engine was fitted to, with its own equations, constants, hardware draws, instruments and fault frequencies; seeds from 90,000,001, used for nothing else. By layout: sound systems and faults that cost at least 5 %, full set.',
  bySet: [
    row('gauges', 1667, [67.7, 90, 0.7, 31.4, 18.3, 77.9], 1.6, 1.3),
    row('gauges-transducer', 1667, [67.3, 90.3, 2.4, 31.2, 17.3, 57.5], 1.51, 1.3),
    row('temperatures', 1667, [68.6, 89.1, 2.2, 32.3, 12.9, 54.6], 1.43, 1.1),
    row('full', 5000, [79, 93.3, 2.7, 13.7, 9.7, 25.2], 0.93, 1.11),
  ],
  byLayout: [
    row('orifice-accumulator', 912, [84, 95.8, 2.6, 9.7, 6.5, 26.8], 0.63, 1.03),
    row('valve-integral-receiver', 1960, [80.3, 93.6, 2.6, 12.5, 10.1, 21.9], 0.73, 1.15),
    row('valve-receiver', 924, [78.5, 94.2, 2.9, 12.4, 9.6, 24.6], 0.72, 0.89),
  ],
};
