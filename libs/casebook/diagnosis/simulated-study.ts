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
  engineVersion: 'engine-3+c3-9dd46da0',
  statement:
    'Measured on simulated systems, not on vehicles. Accuracy on simulated systems is no accuracy in the field: it is an upper bound until repairs have been proved.',
  split:
    'Another simulator than the one the engine was fitted to, with its own equations, constants, hardware draws, instruments and fault frequencies; seeds from 40,000,001, used for nothing else. By layout: sound systems and faults that cost at least 5 %, full set.',
  bySet: [
    row('gauges', 1667, [67.1, 85.4, 0, 36.6, 19.6, 83.7], 1.89, 1.35),
    row('gauges-transducer', 1667, [67.2, 87.1, 1, 37.7, 14.3, 74.6], 1.72, 1.31),
    row('temperatures', 1667, [70.5, 87.1, 2, 31.2, 10, 56.6], 1.51, 1.26),
    row('full', 5000, [79.6, 93.3, 4.2, 14.4, 7, 35.1], 0.97, 1.22),
  ],
  byLayout: [
    row('orifice-accumulator', 922, [83.2, 95.7, 4.2, 10.3, 6.2, 36.1], 0.69, 0.85),
    row('valve-integral-receiver', 1861, [80.8, 93, 4.3, 14.4, 6.1, 33.8], 0.78, 1.27),
    row('valve-receiver', 960, [80.3, 93.1, 4.2, 14, 5.9, 31], 0.8, 0.92),
  ],
};
