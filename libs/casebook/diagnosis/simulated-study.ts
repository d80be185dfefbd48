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
  engineVersion: 'engine-8+c3-9dd46da0',
  statement:
    'Measured on simulated systems, not on vehicles. Accuracy on simulated systems is no accuracy in the field: it is an upper bound until repairs have been proved.',
  split:
    'Another simulator than the one the engine was fitted to, with its own equations, constants, hardware draws, instruments and fault frequencies; seeds from 105,000,001, used for nothing else. By layout: sound systems and faults that cost at least 5 %, full set.',
  bySet: [
    row('gauges', 1667, [69.9, 87.5, 0.3, 36.2, 13.1, 74.4], 1.67, 1.56),
    row('gauges-transducer', 1667, [69.5, 88.1, 1.1, 36.6, 11.7, 53.4], 1.6, 1.46),
    row('temperatures', 1667, [71.4, 88.5, 2.2, 30.5, 10.2, 40.1], 1.45, 1.1),
    row('full', 5000, [80.3, 94, 2, 13.9, 7.6, 22.4], 0.9, 1.13),
  ],
  byLayout: [
    row('orifice-accumulator', 1013, [83.4, 95.2, 3, 9.9, 5.3, 24], 0.62, 0.98),
    row('valve-integral-receiver', 1760, [82.7, 95, 1.2, 13.9, 6, 18.6], 0.64, 1.22),
    row('valve-receiver', 973, [80.6, 94.9, 2.3, 11.7, 9.6, 21.4], 0.7, 1),
  ],
};
