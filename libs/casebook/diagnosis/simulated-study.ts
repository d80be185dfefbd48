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
  engineVersion: 'engine-7+c3-9dd46da0',
  statement:
    'Measured on simulated systems, not on vehicles. Accuracy on simulated systems is no accuracy in the field: it is an upper bound until repairs have been proved.',
  split:
    'Another simulator than the one the engine was fitted to, with its own equations, constants, hardware draws, instruments and fault frequencies; seeds from 94,000,001 (gauges and transducer) and 97,000,001 (the rest), used for nothing else. By layout: sound systems and faults that cost at least 5 %, full set.',
  bySet: [
    row('gauges', 1667, [65.9, 90, 0, 33.2, 18.8, 79.1], 1.66, 1.56),
    row('gauges-transducer', 1667, [65, 89.7, 1.6, 34.4, 16.6, 57.3], 1.59, 1.16),
    row('temperatures', 1667, [68.8, 88.6, 1.7, 29.9, 13.2, 35.3], 1.46, 1.24),
    row('full', 5000, [81.2, 93.7, 3, 12.7, 7.7, 22.5], 0.9, 1.17),
  ],
  byLayout: [
    row('orifice-accumulator', 924, [82.3, 95.2, 2.3, 12.7, 6.5, 23.7], 0.62, 1.04),
    row('valve-integral-receiver', 1831, [82.6, 94.5, 3.7, 10.7, 7.7, 19], 0.67, 1.18),
    row('valve-receiver', 1007, [80.9, 93, 2, 12, 7.7, 22.9], 0.69, 1.18),
  ],
};
