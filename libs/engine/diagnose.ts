import { cautionsFor } from './advice/cautions.js';
import { rankTests } from './advice/next.js';
import { OWNER } from './advice/words.js';
import { type Analysis, alikeOf, analyse } from './analysis.js';
import { applies, entryOf, isFault } from './catalogue/entries.js';
import { soakOf } from './channels/rest.js';
import { weighedSize } from './channels/weight.js';
import { FAULT_CODES, type FaultCode, type HypothesisCode } from './codes.js';
import { toMillionths } from './digits.js';
import type { EngineInput } from './evidence.js';
import { functionalsOf, slopesAt, valueOn, varianceOn } from './functionals.js';
import type { NodeGroup } from './groups.js';
import { contradictionsOf, ledgerOf, predictionsOf, residualsOf, weighedFunctionals } from './ledger.js';
import type { HypothesisNode } from './node.js';
import { pairKey } from './posterior.js';
import { restrictionOf } from './restriction.js';
import type { EngineResult, FaultProbability, Interval } from './result.js';
import { Room } from './room.js';
import { signatureOf } from './signature.js';
import { tracePicture } from './traces.js';
import { trustOf } from './trust.js';
import { ENGINE_VERSION } from './version.js';

/** What no part of the engine models; said with every answer. */
const NOT_MODELLED = [
  'icing of the evaporator in time',
  'heat-pump operation',
  'oil circulating with the refrigerant',
  'clutch transients within one cycle',
  'hybrid chiller loops beyond one extra branch',
];

/** Mean and 90 % interval of a quantity of one hypothesis over its severities; width from the nodes plus each node's own. */
function interval(
  analysis: Analysis,
  group: NodeGroup,
  of: (node: HypothesisNode) => number,
  variance: (node: HypothesisNode) => number,
): Interval {
  let mass = 0;
  let sum = 0;
  let square = 0;
  for (const i of group.members) {
    const p = analysis.posterior.nodes[i]! + 1e-15;
    const v = of(analysis.nodes[i]!);
    mass += p;
    sum += p * v;
    square += p * (v * v + variance(analysis.nodes[i]!));
  }
  const value = sum / mass;
  const sd = Math.sqrt(Math.max(square / mass - value * value, 0));
  const clip = (v: number) => toMillionths(Math.min(Math.max(v, 0), 1));
  return { value: clip(value), low: clip(value - 1.645 * sd), high: clip(value + 1.645 * sd) };
}

/** Half a step between severities, and what two models differ by in the size of the same fault: one standard deviation, share of the scale. */
const SEVERITY_SIGMA = 0.13;
/** Two models of one vehicle differ in the capacity a fault costs: by a constant and by a share of it. */
const LOSS_SIGMA = 0.035;
const LOSS_SHARE = 0.18;
/** The calibration has the width of the loss over every weather; in one weather this share of it is left. */
const LOSS_IN_ONE_WEATHER = 0.55;
/** Width among systems where the effects are tabulated, share of the loss. */
const LOSS_TABULATED = 0.3;

/** A charge that was weighed is known better than by the severities of its fault: each then stands for the part of its width that agrees with the weight. */
function severityOf(analysis: Analysis, group: NodeGroup): Interval {
  const weighed = weighedSize(group.code, analysis.channels);
  const own = SEVERITY_SIGMA ** 2;
  const pull = weighed ? own / (own + weighed.sigma ** 2) : 0;
  return interval(
    analysis,
    group,
    ({ severity }) => severity + pull * ((weighed?.value ?? severity) - severity),
    () => (1 - pull) * own,
  );
}
const lossOf = (analysis: Analysis, group: NodeGroup) =>
  interval(
    analysis,
    group,
    (node) => node.capacityLost,
    ({ capacityLost, lossSigma }) => {
      const own = lossSigma === null ? LOSS_TABULATED * capacityLost : LOSS_IN_ONE_WEATHER * lossSigma;
      return LOSS_SIGMA ** 2 + (LOSS_SHARE * capacityLost) ** 2 + own * own;
    },
  );

function faultLines(analysis: Analysis): FaultProbability[] {
  const { posterior, groups } = analysis;
  const lines: FaultProbability[] = [];
  const line = (group: NodeGroup, probability: number) => {
    const { code, cascade } = group;
    const sized = isFault(code) && code !== 'healthy' && group.members.length > 1;
    lines.push({
      code,
      name: entryOf(code).name,
      probability,
      severity: sized ? severityOf(analysis, group) : null,
      capacityLost: sized ? lossOf(analysis, group) : null,
      cascade,
    });
  };
  // A pair is a line of its own once the evidence speaks for it; below that its share stays with the fault alone.
  const apart = new Map<HypothesisCode, number>();
  for (const group of groups) {
    if (group.cascade === null) continue;
    const p = posterior.pairs.get(pairKey(group.code, group.cascade))!;
    if (p < 0.08) continue;
    apart.set(group.code, (apart.get(group.code) ?? 0) + p);
    line(group, p);
  }
  for (const group of groups) {
    if (group.cascade === null) line(group, Math.max(posterior.codes.get(group.code)! - (apart.get(group.code) ?? 0), 0));
  }
  lines.sort((a, b) => b.probability - a.probability || (a.code < b.code ? -1 : 1));
  return lines.map((ranked) => ({ ...ranked, probability: toMillionths(ranked.probability) }));
}

/** Observations already made, as the next tests name them. */
function answeredSet(analysis: Analysis, observations: readonly string[]): Set<string> {
  const out = new Set(observations);
  const soak = soakOf(analysis.input);
  if (out.has('static-excess') && soak?.soaked) out.add('static-excess-soaked');
  if ((analysis.input.conditions.runningS ?? 0) >= 480) out.add('settled');
  return out;
}

function unseenFaults(
  analysis: Analysis,
  observations: ReadonlySet<string>,
  functionals: ReturnType<typeof weighedFunctionals>,
): FaultCode[] {
  return FAULT_CODES.filter((code) => {
    if (code === 'healthy' || !applies(code, analysis.input.platform)) return false;
    if (entryOf(code).seenBy.some((o) => observations.has(o) && !functionals.some((w) => w.f.observation === o))) return false;
    const group = analysis.groups.find((g) => g.code === code && g.cascade === null);
    return !group?.members.some((i) => functionals.some((w) => Math.abs(w.mean[i]! - w.healthy) / w.tolerance > 1.5));
  });
}

/** Lent to one case after the other: an answer holds nothing of it. */
const room = new Room();

/**
 * The engine's answer to the readings of one case. Pure and deterministic; does not depend on the order of readings or on a value entered twice.
 * No field data stands behind the effect sizes yet: accuracy on simulated cases is not accuracy on vehicles.
 */
export function diagnose(input: EngineInput): EngineResult {
  room.clear();
  const analysis = analyse(input, false, room);
  const { posterior, prior, measured } = analysis;
  const ranking = [...posterior.codes].sort((a, b) => b[1] - a[1] || (a[0] < b[0] ? -1 : 1));
  const [leader, leading] = ranking[0]!;
  const runnerUp = ranking[1]?.[0] ?? null;
  const close = ranking.filter(([, p]) => p >= 0.3 * leading && p >= 0.08).slice(0, 4);

  const functionals = weighedFunctionals(analysis);
  const observations = [...functionals.map((w) => w.f.observation), ...analysis.channels.map((c) => c.observation)];
  const seen = new Set(observations);
  const shown = ranking
    .filter(([, p]) => p > 0.01)
    .slice(0, 6)
    .map(([code]) => code);
  const restriction = restrictionOf(analysis, functionals);
  const trust = trustOf(input, analysis.barometer, analysis.evidence, measured, analysis.astray > ASTRAY, analysis.vehicle);
  const faults = faultLines(analysis);

  let learned = 0;
  for (const [code, p] of posterior.codes) if (p > 0) learned += p * Math.log(p / prior.get(code)!);
  const { status, reason } = verdict(analysis, leader, leading, close, learned, observations.length);
  const held = close.reduce((sum, [, p]) => sum + p, 0);
  const wide = status === 'cannot-tell' || held < SETTLED * (1 - analysis.astray);
  const leaders = wide && observations.length > 0 ? leadersOf(ranking) : close;
  const tied = leaders.length > 1 ? leaders.map(([code]) => code) : [];
  const answered = answeredSet(analysis, observations);
  return {
    engineVersion: ENGINE_VERSION,
    ownReadings: analysis.vehicle?.readings ?? 0,
    status,
    reason,
    summary: summaryOf(analysis, leader, leading, tied, status, reason, seen, restriction?.message ?? null),
    ownerParagraph: ownerOf(leader, tied, status, faults),
    trust,
    faults: faults.filter((f, i) => f.probability >= 0.001 || i < 3),
    tied,
    alike: alikeOf(analysis).filter((codes) => codes.some((code) => posterior.codes.get(code)! >= 0.02)),
    ledger: ledgerOf(analysis, functionals, shown),
    predictions: predictionsOf(analysis, functionals, leader, runnerUp),
    contradictions: contradictionsOf(analysis, functionals, leader),
    restriction,
    thermal: analysis.thermal?.picture ?? null,
    traces: input.traces.flatMap((trace, i) => tracePicture(trace, i) ?? []),
    unseen: unseenFaults(analysis, seen, functionals),
    notModelled: [...NOT_MODELLED],
    nextTests: rankTests(input, posterior.codes, answered),
    cautions: cautionsFor(
      input,
      close.map(([code]) => code),
    ),
    signature: signatureOf(residualsOf(analysis, functionals)),
  };
}

/** From this probability on the readings are said not to belong together. */
const ASTRAY = 0.5;

type Ranked = readonly (readonly [HypothesisCode, number])[];

/** Leaders that hold less than this of what the readings say do not close the question: the next ones are named with them. */
const SETTLED = 0.8;

/** The fewest leaders that hold nearly all of the probability, four at most: what is in question when the readings do not decide. */
function leadersOf(ranking: Ranked): Ranked {
  let held = 0;
  let count = 0;
  while (count < Math.min(ranking.length, 4) && held < 0.96 && ranking[count]![1] >= 0.02) held += ranking[count++]![1];
  return ranking.slice(0, count);
}

function verdict(
  analysis: Analysis,
  leader: HypothesisCode,
  leading: number,
  close: Ranked,
  learned: number,
  observations: number,
): { status: EngineResult['status']; reason: string | null } {
  const cannot = (reason: string) => ({ status: 'cannot-tell' as const, reason });
  if (observations === 0) return cannot('No reading of the circuit can be used yet.');
  if (analysis.astray > ASTRAY) {
    return cannot('These readings do not belong together: each is possible, but no fault explains all of them at once.');
  }
  if (leader === 'undercharge') {
    const group = analysis.groups.find((g) => g.code === 'undercharge' && g.cascade === null)!;
    if (severityOf(analysis, group).value > 0.85) {
      return cannot('The system is nearly empty: other faults cannot show before the leak is found and the charge is restored by weight.');
    }
  }
  if (learned < 0.2) return cannot('The readings hardly change what was likely before them.');
  const sound = analysis.posterior.codes.get('healthy') ?? 0;
  if (leader !== 'healthy' && entryOf(leader).kind === 'fault' && sound > 0.1 && leading < 0.75) {
    return cannot(`A sound system is not excluded (${percent(sound)}); the leader is ${entryOf(leader).name.toLowerCase()}.`);
  }
  const together = close.reduce((sum, [, p]) => sum + p, 0);
  if (leading < 0.35 || (leading < 0.5 && together < 0.6)) {
    return cannot(`The readings do not separate the leaders: ${close.map(([code]) => entryOf(code).name.toLowerCase()).join(', ')}.`);
  }
  return { status: 'answered', reason: null };
}

const percent = (p: number) => `${Math.round(100 * p)} %`;

function summaryOf(
  analysis: Analysis,
  leader: HypothesisCode,
  leading: number,
  tied: readonly HypothesisCode[],
  status: EngineResult['status'],
  reason: string | null,
  seen: ReadonlySet<string>,
  restriction: string | null,
): string {
  const parts: string[] = [];
  if (status === 'cannot-tell') parts.push(`Cannot tell: ${reason}`);
  else if (tied.length > 1 && leading > 0.5) {
    const others = tied.filter((c) => c !== leader).map((c) => `“${entryOf(c).name}” (${percent(analysis.posterior.codes.get(c)!)})`);
    parts.push(`${entryOf(leader).name} (${percent(leading)}); not excluded: ${others.join(', ')}.`);
  } else if (tied.length > 1)
    parts.push(
      `These readings do not separate ${tied.map((c) => `“${entryOf(c).name}” (${percent(analysis.posterior.codes.get(c)!)})`).join(' and ')}.`,
    );
  else parts.push(`${entryOf(leader).name} (${percent(leading)}).`);
  if (restriction) parts.push(restriction);
  if (!seen.has('charge-share')) {
    parts.push('Within the reserve of receiver or accumulator pressures do not move with the charge: only weighing shows it.');
  }
  return parts.join(' ');
}

function ownerOf(
  leader: HypothesisCode,
  tied: readonly HypothesisCode[],
  status: EngineResult['status'],
  faults: readonly FaultProbability[],
): string {
  const parts: string[] = [];
  if (status === 'cannot-tell') {
    parts.push('The measurements taken so far do not yet show for certain what is wrong.');
    if (leader === 'undercharge') parts.push(OWNER.undercharge);
    parts.push('One more test is worth doing before any part is replaced.');
    return parts.join(' ');
  }
  if (tied.length > 1) {
    parts.push('The measurements leave two or more explanations, and one more short test will tell them apart.');
    parts.push(...tied.slice(0, 2).map((code) => OWNER[code]));
  } else parts.push(OWNER[leader]);
  const lost = faults.find((f) => f.code === leader)?.capacityLost;
  if (tied.length < 2 && lost && lost.value >= 0.05) parts.push(`It costs about ${percent(lost.value)} of the cooling.`);
  const cascade = faults.find((f) => f.cascade !== null && f.probability > 0.2);
  if (cascade?.cascade)
    parts.push(`What caused it may still be there (${entryOf(cascade.cascade).name.toLowerCase()}); this should be settled first.`);
  return parts.join(' ');
}

/** A quantity a sound system of this kind would show in this weather. */
export interface HealthyExpectation {
  readonly observation: string;
  readonly label: string;
  readonly unit: 'Pa' | 'K' | '1';
  readonly value: number;
  /** One standard deviation: hardware of unlisted vehicles and conditions not written down. */
  readonly tolerance: number;
}

/** What a healthy system would show under the conditions of a case; pressures absolute. */
export function expectedHealthy(input: EngineInput): HealthyExpectation[] {
  const {
    healthy,
    seating,
    input: same,
  } = analyse(
    { ...input, readings: input.readings.filter((r) => r.quantity !== 'pressure'), findings: [], thermalMaps: [], traces: [] },
    true,
  );
  const slopes = slopesAt(healthy.mean, same.platform.refrigerant);
  const low = seating.lowPort === 'compressor-suction' ? 0 : 1;
  const dims = [low, 3, 4, 6, 7, 9, 10, 11];
  return functionalsOf(dims).map((f) => ({
    observation: f.observation,
    label: f.label,
    unit: f.unit,
    value: valueOn(f, healthy.mean, same.platform.refrigerant),
    tolerance: Math.sqrt(varianceOn(f, healthy.covariance, slopes)),
  }));
}
