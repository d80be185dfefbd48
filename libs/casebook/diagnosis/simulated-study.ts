import type { SimulatedStudy } from '#libs/contracts/index.js';

type Row = SimulatedStudy['bySet'][number];
/** Shares in per cent: first answer right, among the first three, false alarm, missed, misdiagnosed, no response. */
type Percents = readonly [number, number, number, number, number, number];
function row(name: string, n: number, percents: Percents, logLoss: number, slope: number): Row {
  const [top1, top3, falseAlarms, missed, misdiagnosed, noResponse] = percents.map((p) => p / 100) as unknown as Percents;
  return { name, n, top1, top3, falseAlarms, missed, misdiagnosed, noResponse, logLoss, slope };
}

/** The study of docs/validation.md as data: printed by `tests/validate/engine-report.ts`, 9,000 cases in the full set. */
export const SIMULATED_STUDY: SimulatedStudy = {
  engineVersion: 'engine-9+c3-a86918bf',
  statement:
    'Measured on simulated systems, not on vehicles. Accuracy on simulated systems is no accuracy in the field: it is an upper bound until repairs have been proved.',
  split:
    'Another simulator than the one the engine was fitted to, with its own equations, constants, hardware draws, instruments and fault frequencies; seeds from 118,000,001, used for nothing else. By layout: sound systems and faults that cost at least 5 %, full set.',
  bySet: [
    row('gauges', 3000, [70, 90.2, 0.4, 34.6, 12.4, 63.2], 1.58, 1.26),
    row('gauges-transducer', 3000, [68.7, 90.9, 0.8, 34.1, 12.4, 39.3], 1.5, 1.1),
    row('temperatures', 3000, [73.5, 89.9, 1.7, 30.1, 8.8, 27.8], 1.33, 1.2),
    row('full', 9000, [81.8, 95, 2.9, 13.4, 6.7, 14.8], 0.83, 1.05),
  ],
  byLayout: [
    row('orifice-accumulator', 1837, [84.9, 96.1, 3.8, 10.5, 5.6, 15], 0.53, 1.01),
    row('valve-integral-receiver', 3194, [84.5, 96, 2.8, 11.5, 5.8, 13.6], 0.54, 1.15),
    row('valve-receiver', 1765, [83.3, 95.4, 2.2, 11.1, 7.4, 14.7], 0.56, 1.22),
  ],
};
