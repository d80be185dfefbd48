import type { EngineResult, HypothesisCode } from '#libs/engine/index.js';

/** One judged case of a study. Faults no reading given can tell apart form one class; probabilities are summed over it. */
export interface Judged {
  readonly truth: HypothesisCode;
  /** Class of the drawn fault; `healthy` when it changes nothing that was read (graded by impact). */
  readonly truthClass: string;
  /** Class of the drawn fault as it is: what probabilities are held against. */
  readonly drawnClass: string;
  readonly group: string;
  /** Most probable class first. */
  readonly classes: readonly { readonly name: string; readonly p: number }[];
  readonly status: EngineResult['status'];
  /** Loss of capacity, efficiency or delivered cooling, share. */
  readonly impact: number;
  /** The same without classes. */
  readonly plain: readonly { readonly name: string; readonly p: number }[];
  /** Faults the answer names together, at most four: plain and as classes. */
  readonly named: readonly string[];
  readonly namedClasses: readonly string[];
  /** Whether the 90 % interval of the true fault holds the charge missing or too much; null where it has none. */
  readonly chargeCovered: boolean | null;
  /** The same for the share of capacity lost. */
  readonly lossCovered: boolean | null;
}

/** The five outcomes of a diagnostic test on a library of cases (after Yuill and Braun), as shares, with accuracy and calibration. */
export interface Study {
  readonly cases: number;
  readonly top1: number;
  readonly top3: number;
  /** Without classes, against the fault as drawn. */
  readonly plainTop1: number;
  readonly plainTop3: number;
  /** Truth among the faults the answer names together. */
  readonly named: number;
  readonly falseAlarm: number;
  readonly missed: number;
  readonly misdiagnosed: number;
  readonly noResponse: number;
  readonly chargeCovered: number;
  readonly lossCovered: number;
  readonly logLoss: number;
  readonly calibrationSlope: number;
  readonly calibrationIntercept: number;
}

/** Probability of every class, cascades summed, most probable first. */
export function byClass(result: EngineResult, classOf: (code: HypothesisCode) => string): { name: string; p: number }[] {
  const sums = new Map<string, number>();
  for (const f of result.faults) sums.set(classOf(f.code), (sums.get(classOf(f.code)) ?? 0) + f.probability);
  return [...sums].map(([name, p]) => ({ name, p })).sort((a, b) => b.p - a.p);
}

/** Slope and intercept of right ~ logit(p) by Newton's method; 1 and 0 are perfect, a slope below 1 is overconfident. */
export function calibration(points: readonly { readonly p: number; readonly right: boolean }[]): { slope: number; intercept: number } {
  let a = 0;
  let b = 1;
  for (let step = 0; step < 40; step++) {
    let g0 = 0;
    let g1 = 0;
    let h00 = 1e-9;
    let h01 = 0;
    let h11 = 1e-9;
    for (const { p, right } of points) {
      const q = Math.min(Math.max(p, 1e-4), 1 - 1e-4);
      const x = Math.log(q / (1 - q));
      const m = 1 / (1 + Math.exp(-(a + b * x)));
      const e = (right ? 1 : 0) - m;
      const w = m * (1 - m);
      g0 += e;
      g1 += e * x;
      h00 += w;
      h01 += w * x;
      h11 += w * x * x;
    }
    const det = h00 * h11 - h01 * h01;
    const da = (h11 * g0 - h01 * g1) / det;
    const db = (h00 * g1 - h01 * g0) / det;
    a += da;
    b += db;
    if (Math.abs(da) + Math.abs(db) < 1e-9) break;
  }
  return { slope: b, intercept: a };
}

export function summarise(judged: readonly Judged[]): Study {
  const share = (test: (j: Judged) => boolean, of: readonly Judged[] = judged) =>
    of.length === 0 ? Number.NaN : of.filter(test).length / of.length;
  const right = (j: Judged) => j.classes[0]!.name === j.truthClass;
  const faulty = judged.filter((j) => j.truthClass !== 'healthy');
  const sound = judged.filter((j) => j.truth === 'healthy');
  const { slope, intercept } = calibration(judged.map((j) => ({ p: j.classes[0]!.p, right: j.classes[0]!.name === j.drawnClass })));
  const loss = judged.reduce((sum, j) => sum - Math.log(Math.max(j.classes.find((c) => c.name === j.drawnClass)?.p ?? 0, 1e-4)), 0);
  return {
    cases: judged.length,
    top1: share(right),
    top3: share((j) => j.classes.slice(0, 3).some((c) => c.name === j.truthClass)),
    plainTop1: share((j) => j.plain[0]!.name === j.truth),
    plainTop3: share((j) => j.plain.slice(0, 3).some((c) => c.name === j.truth)),
    named: share((j) => j.namedClasses.includes(j.truthClass)),
    chargeCovered: share(
      (j) => j.chargeCovered === true,
      judged.filter((j) => j.chargeCovered !== null),
    ),
    lossCovered: share(
      (j) => j.lossCovered === true,
      judged.filter((j) => j.lossCovered !== null && j.truth !== 'healthy'),
    ),
    falseAlarm: share((j) => j.status === 'answered' && !right(j), sound),
    missed: share((j) => j.classes[0]!.name === 'healthy', faulty),
    misdiagnosed: share((j) => j.classes[0]!.name !== 'healthy' && !right(j), faulty),
    noResponse: share((j) => j.status === 'cannot-tell'),
    logLoss: loss / Math.max(judged.length, 1),
    calibrationSlope: slope,
    calibrationIntercept: intercept,
  };
}

/** Sound systems and faults that cost at least 5 %, graded by the fault as drawn. */
export const weighty = (judged: readonly Judged[]): Judged[] =>
  judged.filter((j) => j.truth === 'healthy' || j.impact >= 0.05).map((j) => ({ ...j, truthClass: j.drawnClass }));
