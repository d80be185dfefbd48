import type { Analysis } from './analysis.js';
import { entryOf } from './catalogue/entries.js';
import { standardised } from './channels/channel.js';
import type { HypothesisCode } from './codes.js';
import { inDigitsOf } from './digits.js';
import { DIMS } from './dims.js';
import { type Functional, functionalsOf, seenOn, slopesAt, valueOn, varianceOn } from './functionals.js';
import { density1 } from './gaussian.js';
import type { NodeGroup } from './groups.js';
import type { HypothesisNode } from './node.js';
import { broadOf } from './posterior.js';
import type { EvidenceSize, EvidenceWeight, LedgerLine, Prediction } from './result.js';
import { saturationPressure, saturationSlope } from './saturation.js';

/** A quantity of the running circuit with what each hypothesis expects of it. */
interface Weighed {
  readonly f: Functional;
  readonly seen: number;
  readonly healthy: number;
  readonly tolerance: number;
  /** Expected value and its width under every single hypothesis, in the order of the nodes: a pair shows what its single shows. */
  readonly mean: Float64Array;
  readonly sigma: Float64Array;
}

function sizeOf(logOdds: number): EvidenceSize {
  const a = Math.abs(logOdds);
  const side = logOdds > 0 ? 'for' : 'against';
  // Odds of 1.5, 3 and 20: slight, plain, strong.
  if (a < 0.4) return 'neutral';
  if (a < 1.1) return `slight-${side}`;
  return a < 3 ? side : `strong-${side}`;
}

/** Weights of observations for some codes, made once for all lines of a ledger: hypotheses, their priors and shares are the same in each. */
class Scales {
  /** Faults alone, in order: of a pair no observation of the circuit says more. */
  private readonly groups: readonly NodeGroup[];
  private readonly prior: Float64Array;
  private readonly shares: Float64Array;
  /** Mean likelihood of each, for the line in hand. */
  private readonly mean: Float64Array;
  private readonly asked: readonly number[];

  private readonly nodes: readonly HypothesisNode[];

  constructor(
    analysis: Analysis,
    private readonly codes: readonly HypothesisCode[],
  ) {
    const { nodes } = analysis;
    this.nodes = nodes;
    this.groups = analysis.groups.filter(({ cascade }) => cascade === null);
    this.prior = Float64Array.from(this.groups, ({ code }) => analysis.prior.get(code)!);
    this.shares = Float64Array.from(this.groups, ({ members }) => members.reduce((sum, i) => sum + nodes[i]!.share, 0));
    this.mean = new Float64Array(this.groups.length);
    this.asked = codes.map((code) => this.groups.findIndex((group) => group.code === code));
  }

  /** Likelihood of a code, over its severities, against the prior-weighted average of the other codes. `likelihood` is that of every single hypothesis. */
  weigh(likelihood: Float64Array): EvidenceWeight[] {
    const { nodes, groups, prior, shares, mean } = this;
    let total = 0;
    let mass = 0;
    for (let g = 0; g < groups.length; g++) {
      const { members } = groups[g]!;
      let sum = 0;
      for (let m = 0; m < members.length; m++) sum += nodes[members[m]!]!.share * likelihood[members[m]!]!;
      mean[g] = sum / shares[g]!;
      total += (prior[g]! * sum) / shares[g]!;
      mass += prior[g]!;
    }
    return this.codes.map((code, c) => {
      const p = prior[this.asked[c]!]!;
      const mine = mean[this.asked[c]!]!;
      const others = (total - p * mine) / Math.max(mass - p, 1e-9);
      const logOdds = Math.min(Math.max(Math.log(Math.max(mine, 1e-12) / Math.max(others, 1e-12)), -12), 12);
      return { code, logOdds: inDigitsOf(null, logOdds), size: sizeOf(logOdds) };
    });
  }
}

export function weighedFunctionals(analysis: Analysis): Weighed[] {
  const { measured, healthy, input, nodes, twins, singles } = analysis;
  const name = input.platform.refrigerant;
  const sum = new Float64Array(DIMS * DIMS);
  for (let i = 0; i < sum.length; i++) sum[i] = healthy.covariance[i]! + measured.noise[i]!;
  const slopes = slopesAt(healthy.mean, name);
  // Each dimension of each circuit is read once, and becomes a pressure once, however many quantities it enters.
  const pressures: (Float64Array | undefined)[] = [];
  const temperatures: (Float64Array | undefined)[] = [];
  const levels = (f: Functional, dim: number): Float64Array => {
    const held = f.unit === 'Pa' ? pressures : temperatures;
    if (held[dim]) return held[dim];
    const out = new Float64Array(singles);
    for (let i = 0; i < singles; i++) {
      if (twins[i] !== i) out[i] = out[twins[i]!]!;
      else out[i] = f.unit === 'Pa' ? saturationPressure(name, nodes[i]!.mean[dim]!) : nodes[i]!.mean[dim]!;
    }
    held[dim] = out;
    return out;
  };
  const functionals = functionalsOf(measured.present);
  // In one piece: so many short arrays of their own cost more than what is written to them.
  const n = singles;
  const all = new Float64Array(2 * n * functionals.length);
  return functionals.map((f, k) => {
    const base = varianceOn(f, sum, slopes);
    const plus = levels(f, f.plus);
    const minus = f.minus === null ? null : levels(f, f.minus);
    const mean = all.subarray(2 * n * k, 2 * n * k + n);
    const sigma = all.subarray(2 * n * k + n, 2 * n * (k + 1));
    for (let i = 0; i < n; i++) {
      if (twins[i] !== i) {
        mean[i] = mean[twins[i]!]!;
        sigma[i] = sigma[twins[i]!]!;
        continue;
      }
      mean[i] = plus[i]! - (minus === null ? 0 : minus[i]!);
      const spread = nodes[i]!.spread;
      sigma[i] = Math.sqrt(Math.max(base + (spread === null ? 0 : varianceOn(f, spread, slopes)), 0.01 * base));
    }
    return {
      f,
      seen: seenOn(f, measured),
      healthy: valueOn(f, healthy.mean, name),
      tolerance: Math.sqrt(Math.max(base, 1e-12)),
      mean,
      sigma,
    };
  });
}

const idsOf = (analysis: Analysis, f: Functional) =>
  [...new Set([...analysis.measured.ids[f.plus]!, ...(f.minus === null ? [] : analysis.measured.ids[f.minus]!)])].sort();

/** Evidence ledger over the leading codes: what each observation says for and against them, one line each. */
export function ledgerOf(analysis: Analysis, functionals: readonly Weighed[], codes: readonly HypothesisCode[]): LedgerLine[] {
  const name = analysis.input.platform.refrigerant;
  const { singles } = analysis;
  const scales = new Scales(analysis, codes);
  const likelihood = new Float64Array(singles);
  const lines: LedgerLine[] = functionals.map((w) => {
    const broad = broadOf(w.f.plus) * (w.f.unit === 'Pa' ? saturationSlope(name, Math.min(analysis.healthy.mean[w.f.plus]!, 365)) : 1);
    for (let i = 0; i < singles; i++) likelihood[i] = density1(w.seen - w.mean[i]!, w.sigma[i]!, broad);
    return {
      observation: w.f.observation,
      readings: idsOf(analysis, w.f),
      label: w.f.label,
      seen: inDigitsOf(w.f.unit, w.seen),
      expectedHealthy: inDigitsOf(w.f.unit, w.healthy),
      tolerance: inDigitsOf(w.f.unit, w.tolerance),
      unit: w.f.unit,
      weights: scales.weigh(likelihood),
    };
  });
  for (const c of analysis.channels) {
    for (let i = 0; i < singles; i++) likelihood[i] = Math.exp(c.logs[i]!);
    lines.push({
      observation: c.observation,
      readings: [...c.readings],
      label: c.label,
      seen: c.seen === null ? null : inDigitsOf(c.unit, c.seen),
      expectedHealthy: c.expectedHealthy === null ? null : inDigitsOf(c.unit, c.expectedHealthy),
      tolerance: c.tolerance === null ? null : inDigitsOf(c.unit, c.tolerance),
      unit: c.unit,
      weights: scales.weigh(likelihood),
    });
  }
  const loudest = (line: LedgerLine) => Math.max(...line.weights.map((w) => Math.abs(w.logOdds)), 0);
  return lines.sort((a, b) => loudest(b) - loudest(a) || (a.observation < b.observation ? -1 : 1));
}

/** Posterior mean of a quantity under one code. */
function expectedUnder({ nodes, twins, posterior }: Analysis, code: HypothesisCode, w: Weighed): number {
  let sum = 0;
  let mass = 0;
  for (let i = 0; i < nodes.length; i++) {
    if (nodes[i]!.code !== code) continue;
    const p = posterior.nodes[i]! + 1e-12 * nodes[i]!.share;
    sum += p * w.mean[twins[i]!]!;
    mass += p;
  }
  return sum / mass;
}

/** What healthy, leader and runner-up predict for every quantity read. */
export function predictionsOf(
  analysis: Analysis,
  functionals: readonly Weighed[],
  leader: HypothesisCode,
  runnerUp: HypothesisCode | null,
): Prediction[] {
  return functionals.map((w) => ({
    observation: w.f.observation,
    label: w.f.label,
    unit: w.f.unit,
    seen: inDigitsOf(w.f.unit, w.seen),
    healthy: inDigitsOf(w.f.unit, w.healthy),
    leader: inDigitsOf(w.f.unit, expectedUnder(analysis, leader, w)),
    runnerUp: runnerUp === null ? null : inDigitsOf(w.f.unit, expectedUnder(analysis, runnerUp, w)),
  }));
}

/** Observations the leading explanation does not explain: more than three of its own widths off, or a finding that speaks plainly against it. */
export function contradictionsOf(analysis: Analysis, functionals: readonly Weighed[], leader: HypothesisCode): string[] {
  const out: string[] = [];
  let at = -1;
  analysis.nodes.forEach((node, i) => {
    if (node.code === leader && (at < 0 || analysis.posterior.nodes[i]! > analysis.posterior.nodes[at]!)) at = i;
  });
  const title = entryOf(leader).name;
  for (const w of functionals) {
    const twin = analysis.twins[at]!;
    const z = (w.seen - w.mean[twin]!) / w.sigma[twin]!;
    if (Math.abs(z) > 3)
      out.push(`${w.f.label} is ${Math.abs(z).toFixed(1)} widths ${z > 0 ? 'above' : 'below'} what “${title}” predicts.`);
  }
  for (const c of analysis.channels) {
    const log = c.logs[at]!;
    if (c.seen === null) {
      if (log < Math.log(0.3)) out.push(`“${c.label}” speaks against “${title}”.`);
    } else if (log < -6.5) out.push(`${c.label} does not fit “${title}”.`);
  }
  return out;
}

/**
 * Standardised residuals by observation, for the signature: against what is known of this very system, in widths of its kind. A vehicle that is known well
 * would else lie farther from its likes than one that is not, with the same fault.
 */
export function residualsOf(analysis: Analysis, functionals: readonly Weighed[]): Map<string, number> {
  const out = new Map<string, number>();
  const { ofItsKind, healthy, input } = analysis;
  const slopes = ofItsKind && slopesAt(healthy.mean, input.platform.refrigerant);
  for (const w of functionals) {
    const width = ofItsKind && slopes ? Math.sqrt(Math.max(varianceOn(w.f, ofItsKind, slopes), 1e-12)) : w.tolerance;
    out.set(w.f.observation, (w.seen - w.healthy) / width);
  }
  for (const c of analysis.channels) {
    const z = standardised(c);
    if (z !== null) out.set(c.observation, z);
  }
  return out;
}
