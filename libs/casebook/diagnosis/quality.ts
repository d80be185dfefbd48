import type {
  EngineQuality,
  Estimate,
  FaultCode,
  HypothesisCode,
  JudgedCase,
  QualityByFault,
  QualityFigures,
  Reliability,
  VerifiedShare,
} from '#libs/contracts/index.js';
import {
  beggGreenes,
  calibrationLine,
  DIAGNOSIS_OUTCOMES,
  diagnosisOutcome,
  reliabilityCurve,
  type VerifiedRate,
  verifiedShare,
  wilson,
} from '#libs/outcomes/index.js';
import { MEASUREMENT_ERROR_CODES } from '#libs/vocabulary/index.js';
import { labelSet } from './labels.js';
import type { JudgedRow, UnprovedCount } from './quality.queries.js';

/** A probability below this counts as this: the ranking is cut there, and one surprise must not own the mean. */
const SMALLEST = 1e-4;
const Z = 1.959964;
const CURVE_STEPS = 60;
const MISTAKES: ReadonlySet<string> = new Set(MEASUREMENT_ERROR_CODES);

/** A proved case, judged. */
export interface Judged {
  readonly row: JudgedRow;
  readonly label: FaultCode[];
  readonly outcome: JudgedCase['outcome'];
  readonly leading: HypothesisCode;
  readonly leadingProbability: number;
  readonly labelProbability: number;
  /** 1 for first; null when nothing of the label is ranked. */
  readonly rank: number | null;
  readonly brier: number;
}

export function judge(row: JudgedRow): Judged {
  const label = labelSet(row);
  const leading = row.codes[0]!;
  const named = row.status === 'answered' && !MISTAKES.has(leading) ? leading : null;
  const proved = named !== null && label.includes(named as FaultCode) ? named : label[0]!;
  let labelProbability = 0;
  let others = 0;
  let rank: number | null = null;
  row.codes.forEach((code, i) => {
    const p = row.probabilities[i]!;
    if (!label.includes(code as FaultCode)) others += p * p;
    else {
      labelProbability += p;
      rank ??= i + 1;
    }
  });
  return {
    row,
    label,
    outcome: diagnosisOutcome({ answer: named, proved }),
    leading,
    leadingProbability: row.probabilities[0]!,
    labelProbability: Math.min(labelProbability, 1),
    rank,
    brier: (1 - labelProbability) ** 2 + others,
  };
}

const isSound = ({ label }: Judged) => label.length === 1 && label[0] === 'healthy';

function shareOf(events: number, n: number) {
  if (n === 0) return { n, events, share: null, low: null, high: null };
  const [low, high] = wilson(events, n);
  return { n, events, share: events / n, low, high };
}

function meanOf(values: readonly number[]): Estimate | null {
  const n = values.length;
  if (n < 2) return null;
  const mean = values.reduce((sum, v) => sum + v, 0) / n;
  const error = Math.sqrt(values.reduce((sum, v) => sum + (v - mean) ** 2, 0) / (n - 1) / n);
  return { value: mean, low: Math.max(0, mean - Z * error), high: mean + Z * error };
}

export function figuresOf(judged: readonly Judged[]): QualityFigures {
  const count = (test: (one: Judged) => boolean) => judged.filter(test).length;
  const sound = count(isSound);
  const of = (outcome: JudgedCase['outcome']) => count((one) => one.outcome === outcome);
  return {
    n: judged.length,
    outcomes: DIAGNOSIS_OUTCOMES.map((outcome) => ({ outcome, share: shareOf(of(outcome), judged.length) })),
    top1: shareOf(
      count(({ rank }) => rank === 1),
      judged.length,
    ),
    top3: shareOf(
      count(({ rank }) => rank !== null && rank <= 3),
      judged.length,
    ),
    falseAlarms: shareOf(of('false-alarm'), sound),
    missed: shareOf(of('missed'), judged.length - sound),
    misdiagnosed: shareOf(of('misdiagnosis'), judged.length - sound),
    logLoss: meanOf(judged.map(({ labelProbability }) => -Math.log(Math.max(labelProbability, SMALLEST)))),
    brier: meanOf(judged.map(({ brier }) => brier)),
  };
}

/** Figures of each group that has cases, in the order of the words. */
export function figuresBy<K extends string>(
  judged: readonly Judged[],
  words: readonly K[],
  of: (one: Judged) => K,
): { key: K; figures: QualityFigures }[] {
  return words.flatMap((key) => {
    const group = judged.filter((one) => of(one) === key);
    return group.length === 0 ? [] : [{ key, figures: figuresOf(group) }];
  });
}

export function reliabilityOf(judged: readonly Judged[]): Reliability | null {
  if (judged.length < 2) return null;
  const forecasts = {
    probability: judged.map(({ leadingProbability }) => Math.min(1, leadingProbability)),
    outcome: judged.map(({ rank }) => (rank === 1 ? 1 : 0)),
  };
  const curve = reliabilityCurve(forecasts);
  const line = calibrationLine(forecasts);
  return {
    n: judged.length,
    points: curve.steps.slice(0, CURVE_STEPS).map((step) => ({ ...step })),
    brier: curve.score,
    miscalibration: curve.miscalibration,
    miscalibrationExpected: curve.expectedMiscalibration,
    discrimination: curve.discrimination,
    uncertainty: curve.uncertainty,
    slope: line.slope,
    slopeLow: line.slopeLower,
    slopeHigh: line.slopeUpper,
  };
}

/** First answer right over all judged cases, proved or not; equal answers are one stratum, "cannot tell" apart from a firm answer. */
export function accuracyOf(judged: readonly Judged[], unproved: readonly UnprovedCount[]): VerifiedShare {
  const strata = new Map<string, { right: number; proved: number; unproved: number }>();
  const stratum = (leading: string | null, status: string) => {
    const key = `${leading ?? ''} ${status}`;
    const one = strata.get(key) ?? { right: 0, proved: 0, unproved: 0 };
    strata.set(key, one);
    return one;
  };
  for (const { row, leading, rank } of judged) {
    const one = stratum(leading, row.status);
    one.proved++;
    if (rank === 1) one.right++;
  }
  for (const { leading, status, n } of unproved) stratum(leading, status).unproved += n;
  if (strata.size === 0) return { naive: null, corrected: null, low: null, high: null, least: null, most: null };
  const { naive, corrected, lower, upper, bounds } = verifiedShare([...strata.values()]);
  return { naive, corrected, low: lower, high: upper, least: bounds[0], most: bounds[1] };
}

const verified = ({ naive, corrected, lower, upper, bounds }: VerifiedRate): VerifiedShare => ({
  naive,
  corrected,
  low: lower,
  high: upper,
  least: bounds?.[0] ?? null,
  most: bounds?.[1] ?? null,
});

/**
 * Detection and specificity of each fault that was proved or called. A label of several causes that holds the fault says neither that it was there nor that it
 * was not: such a case counts as unproved here.
 */
export function faultFigures(judged: readonly Judged[], unproved: readonly UnprovedCount[]): QualityByFault[] {
  const called = new Map<string, number>();
  for (const { leading, n } of unproved) if (leading !== null) called.set(leading, (called.get(leading) ?? 0) + n);
  const waiting = unproved.reduce((sum, { n }) => sum + n, 0);
  const faults = new Set<string>([...judged.flatMap(({ label }) => label), ...judged.map(({ leading }) => leading), ...called.keys()]);
  return [...faults]
    .filter((fault): fault is FaultCode => !MISTAKES.has(fault))
    .map((fault) => {
      const side = (first: boolean) => {
        const group = judged.filter(({ leading }) => (leading === fault) === first);
        const has = group.filter(({ label }) => label.length === 1 && label[0] === fault).length;
        const open = group.filter(({ label }) => label.length > 1 && label.includes(fault)).length;
        const rest = first ? (called.get(fault) ?? 0) : waiting - (called.get(fault) ?? 0);
        return { provedPresent: has, provedAbsent: group.length - has - open, unproved: open + rest };
      };
      const [positive, negative] = [side(true), side(false)];
      const own = judged.filter(({ label }) => label.length === 1 && label[0] === fault);
      const { sensitivity, specificity } = beggGreenes(positive, negative);
      return {
        fault,
        proved: own.length,
        called: positive.provedPresent + positive.provedAbsent + positive.unproved,
        top1: shareOf(own.filter(({ rank }) => rank === 1).length, own.length),
        top3: shareOf(own.filter(({ rank }) => rank !== null && rank <= 3).length, own.length),
        detection: verified(sensitivity),
        specificity: verified(specificity),
        predictive: shareOf(positive.provedPresent, positive.provedPresent + positive.provedAbsent),
      };
    })
    .sort((a, b) => b.proved - a.proved || b.called - a.called || (a.fault < b.fault ? -1 : 1));
}

export function feedbackOf(judged: readonly Judged[], blindShare: number): EngineQuality['feedback'] {
  const part = (test: (one: Judged) => boolean) => {
    const group = judged.filter(test);
    return group.length === 0 ? null : figuresOf(group);
  };
  return {
    blindShare,
    blind: part(({ row }) => row.blind),
    informed: part(({ row }) => !row.blind),
    shown: part(({ row }) => row.shown),
    unshown: part(({ row }) => !row.shown),
  };
}
