import { BadSample } from '#libs/numeric/index.js';
import { wilson } from '../intervals/binomial.js';

/**
 * The five outcomes of a diagnosis against what was proved.
 *
 * correct: named what was proved, healthy included; no-response: withheld an answer; false-alarm: named a fault on a healthy system;
 * missed: called a faulty system healthy; misdiagnosis: named another fault than the proved one
 *
 * Shares are of all cases, summing to 1, with Wilson intervals. falseAlarmRate is among healthy cases, missRate and misdiagnosisRate among
 * faulty ones: null when there is none of the kind. Names compared as given; `healthy` names the healthy state.
 * Source: Yuill and Braun (2012), International Refrigeration and Air Conditioning Conference at Purdue, paper 1307.
 */
export type DiagnosisOutcome = 'correct' | 'no-response' | 'false-alarm' | 'missed' | 'misdiagnosis';

export interface Verdict {
  /** What was answered; null when the answer was withheld. */
  readonly answer: string | null;
  readonly proved: string;
}

export interface OutcomeShare {
  readonly outcome: DiagnosisOutcome;
  readonly n: number;
  readonly share: number;
  readonly lower: number;
  readonly upper: number;
}

export interface FiveOutcomes {
  readonly n: number;
  readonly shares: readonly OutcomeShare[];
  readonly falseAlarmRate: number | null;
  readonly missRate: number | null;
  readonly misdiagnosisRate: number | null;
}

export const DIAGNOSIS_OUTCOMES: readonly DiagnosisOutcome[] = ['correct', 'no-response', 'false-alarm', 'missed', 'misdiagnosis'];

export function diagnosisOutcome({ answer, proved }: Verdict, healthy = 'healthy'): DiagnosisOutcome {
  if (answer === null) return 'no-response';
  if (answer === proved) return 'correct';
  if (proved === healthy) return 'false-alarm';
  return answer === healthy ? 'missed' : 'misdiagnosis';
}

export function fiveOutcomes(verdicts: readonly Verdict[], healthy = 'healthy', level = 0.95): FiveOutcomes {
  if (verdicts.length === 0) throw new BadSample('no case to judge');
  const count = new Map<DiagnosisOutcome, number>(DIAGNOSIS_OUTCOMES.map((o) => [o, 0]));
  let sound = 0;
  for (const verdict of verdicts) {
    const outcome = diagnosisOutcome(verdict, healthy);
    count.set(outcome, count.get(outcome)! + 1);
    if (verdict.proved === healthy) sound++;
  }
  const n = verdicts.length;
  const rate = (outcome: DiagnosisOutcome, of: number) => (of === 0 ? null : count.get(outcome)! / of);
  const shares = DIAGNOSIS_OUTCOMES.map((outcome) => {
    const k = count.get(outcome)!;
    const [lower, upper] = wilson(k, n, level);
    return Object.freeze({ outcome, n: k, share: k / n, lower, upper });
  });
  return Object.freeze({
    n,
    shares: Object.freeze(shares),
    falseAlarmRate: rate('false-alarm', sound),
    missRate: rate('missed', n - sound),
    misdiagnosisRate: rate('misdiagnosis', n - sound),
  });
}

/**
 * Skill of a yes/no warning from its four counts.
 *
 * accuracy (a + d)/n; PSS = a/(a + c) - b/(b + d); HSS = 2(ad - bc)/((a + c)(c + d) + (a + b)(b + d)); CSI = a/(a + b + c)
 *
 * a hits, b false alarms, c misses, d correct negatives. Accuracy flatters whoever always says no: 0.966 for Finley's tornadoes, CSI 0.228.
 * null where the denominator is 0. Source: Murphy (1996), Weather Forecast. 11:3.
 */
export interface WarningSkill {
  readonly accuracy: number | null;
  readonly peirce: number | null;
  readonly heidke: number | null;
  readonly criticalSuccess: number | null;
}

export function warningSkill(hits: number, falseAlarms: number, misses: number, correctNegatives: number): WarningSkill {
  const [a, b, c, d] = [hits, falseAlarms, misses, correctNegatives];
  if (![a, b, c, d].every((v) => v >= 0 && Number.isFinite(v))) throw new BadSample('counts must be >= 0');
  const over = (top: number, bottom: number) => (bottom > 0 ? top / bottom : null);
  const detected = over(a, a + c);
  const raised = over(b, b + d);
  return Object.freeze({
    accuracy: over(a + d, a + b + c + d),
    peirce: detected === null || raised === null ? null : detected - raised,
    heidke: over(2 * (a * d - b * c), (a + c) * (c + d) + (a + b) * (b + d)),
    criticalSuccess: over(a, a + b + c),
  });
}
