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
    'Another simulator than the one the engine was fitted to, with its own equations, constants, hardware draws, instruments and fault frequencies; seeds from 115,000,001, used for nothing else. By layout: sound systems and faults that cost at least 5 %, full set.',
  bySet: [
    row('gauges', 3000, [70.9, 90.4, 0.6, 36.5, 10.9, 60.8], 1.64, 1.47),
    row('gauges-transducer', 3000, [69.8, 91.4, 1, 36.6, 10.5, 39.6], 1.55, 1.14),
    row('temperatures', 3000, [72.5, 91.4, 1.2, 32.2, 8.7, 26.6], 1.4, 1.08),
    row('full', 9000, [80.7, 94.5, 2.7, 14.4, 7.2, 15.9], 0.85, 1.13),
  ],
  byLayout: [
    row('orifice-accumulator', 1812, [82.8, 96.1, 4.1, 12.4, 5, 15.3], 0.55, 1.12),
    row('valve-integral-receiver', 3235, [81.9, 94.4, 2.3, 13.3, 7.5, 14.5], 0.62, 1.08),
    row('valve-receiver', 1737, [83.4, 96.5, 1.8, 12, 6.9, 14.9], 0.55, 1.38),
  ],
};
