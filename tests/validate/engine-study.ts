import { diagnose, type EngineResult } from '#libs/engine/index.js';
import { type Case, drawCase, type Held, type ObservationSet } from './engine-cases.js';
import { byClass, type Judged } from './engine-metrics.js';

/** Cases of one observation set. Seeds are consecutive; draws without a steady state are passed over. */
export function* casesFrom(firstSeed: number, count: number, set: ObservationSet, held: Held = {}): Generator<Case> {
  let given = 0;
  for (let seed = firstSeed; given < count && seed < firstSeed + 3 * count; seed++) {
    const drawn = drawCase(seed, set, held);
    if (!drawn) continue;
    given++;
    yield drawn;
  }
}

/** The same, judged by the engine. */
export function judgeCases(count: number, set: ObservationSet, firstSeed: number, held: Held = {}): Judged[] {
  return Array.from(casesFrom(firstSeed, count, set, held), (drawn) => judge(drawn));
}

export function judge(drawn: Case, result: EngineResult = diagnose(drawn.input)): Judged {
  const line = result.faults.find((f) => f.code === drawn.truth && f.cascade === null);
  const named = result.tied.length > 1 ? result.tied : [result.faults[0]!.code];
  // Charge is the one size both models measure alike: a share of the specification.
  const charge = drawn.truth === 'undercharge' ? drawn.fault.size : drawn.truth === 'overcharge' ? 0.6 * drawn.fault.size : null;
  const inside = (x: number, interval: { low: number; high: number } | null | undefined) =>
    interval ? x >= interval.low - 1e-9 && x <= interval.high + 1e-9 : null;
  return {
    truth: drawn.truth,
    truthClass: drawn.truthClass,
    drawnClass: drawn.classOf(drawn.truth),
    group: drawn.layout,
    impact: drawn.impact,
    classes: byClass(result, drawn.classOf),
    plain: byClass(result, (code) => code),
    named: named.map(String),
    namedClasses: named.map(drawn.classOf),
    chargeCovered: charge === null ? null : inside(charge, line?.severity),
    lossCovered: inside(Math.min(Math.max(drawn.capacityLost, 0), 1), line?.capacityLost),
    status: result.status,
  };
}
