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
  engineVersion: 'engine-6+c3-9dd46da0',
  statement:
    'Measured on simulated systems, not on vehicles. Accuracy on simulated systems is no accuracy in the field: it is an upper bound until repairs have been proved.',
  split:
    'Another simulator than the one the engine was fitted to, with its own equations, constants, hardware draws, instruments and fault frequencies; seeds from 91,000,001, used for nothing else. By layout: sound systems and faults that cost at least 5 %, full set.',
  bySet: [
    row('gauges', 1667, [67, 90.4, 1, 33.1, 16.9, 78.9], 1.6, 1.38),
    row('gauges-transducer', 1667, [66.7, 90.3, 1.2, 33.4, 16.3, 57.3], 1.54, 1.19),
    row('temperatures', 1667, [70.8, 88.8, 1.7, 29, 12.4, 56], 1.43, 1.16),
    row('full', 5000, [79.3, 94.1, 3.1, 12.4, 9.6, 24.9], 0.91, 1.14),
  ],
  byLayout: [
    row('orifice-accumulator', 926, [83, 95.4, 1, 10.4, 8, 26.6], 0.64, 1.1),
    row('valve-integral-receiver', 1839, [80.8, 94.7, 4.9, 10.8, 9.5, 21.9], 0.7, 1.05),
    row('valve-receiver', 1012, [81.3, 95.1, 1.6, 9.8, 9.1, 24.2], 0.65, 1.4),
  ],
};
