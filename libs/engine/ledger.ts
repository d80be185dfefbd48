import type { Analysis } from './analysis.js';
import { entryOf } from './catalogue/entries.js';
import { type Channel, standardised } from './channels/channel.js';
import type { HypothesisCode } from './codes.js';
import { DIMS } from './dims.js';
import { type Functional, functionalsOf, seenOn, valueOn, varianceOn } from './functionals.js';
import { logDensity1 } from './gaussian.js';
import type { HypothesisNode } from './node.js';
import { broadOf } from './posterior.js';
import type { EvidenceSize, EvidenceWeight, LedgerLine, Prediction } from './result.js';
import { saturationSlope } from './saturation.js';

/** A quantity of the running circuit with what each hypothesis expects of it. */
interface Weighed {
  readonly f: Functional;
  readonly seen: number;
  readonly healthy: number;
  readonly tolerance: number;
  /** Expected value and its width under every node, in the order of the nodes. */
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

/** Weight of one observation for a code: its likelihood, over its severities, against the prior-weighted average of the other codes. */
function weightsOf(
  analysis: Analysis,
  codes: readonly HypothesisCode[],
  log: (node: HypothesisNode, index: number) => number,
): EvidenceWeight[] {
  const byCode = new Map<HypothesisCode, { sum: number; share: number }>();
  analysis.nodes.forEach((node, i) => {
    if (node.cascade !== null) return;
    const held = byCode.get(node.code) ?? { sum: 0, share: 0 };
    held.sum += node.share * Math.exp(log(node, i));
    held.share += node.share;
    byCode.set(node.code, held);
  });
  let total = 0;
  let mass = 0;
  for (const [code, { sum, share }] of byCode) {
    const p = analysis.prior.get(code)!;
    total += (p * sum) / share;
    mass += p;
  }
  return codes.map((code) => {
    const own = byCode.get(code)!;
    const p = analysis.prior.get(code)!;
    const mine = own.sum / own.share;
    const others = (total - p * mine) / Math.max(mass - p, 1e-9);
    const logOdds = Math.min(Math.max(Math.log(Math.max(mine, 1e-12) / Math.max(others, 1e-12)), -12), 12);
    return { code, logOdds, size: sizeOf(logOdds) };
  });
}

export function weighedFunctionals(analysis: Analysis): Weighed[] {
  const { measured, healthy, input } = analysis;
  const name = input.platform.refrigerant;
  const sum = new Float64Array(DIMS * DIMS);
  for (let i = 0; i < sum.length; i++) sum[i] = healthy.covariance[i]! + measured.noise[i]!;
  return functionalsOf(measured.present).map((f) => {
    const base = varianceOn(f, sum, healthy.mean, name);
    const value = valueOn(f, healthy.mean, name);
    return {
      f,
      seen: seenOn(f, measured),
      healthy: value,
      tolerance: Math.sqrt(Math.max(base, 1e-12)),
      mean: Float64Array.from(analysis.nodes, (node) => (node.mean === healthy.mean ? value : valueOn(f, node.mean, name))),
      sigma: Float64Array.from(analysis.nodes, (node) =>
        Math.sqrt(Math.max(base + (node.spread === null ? 0 : varianceOn(f, node.spread, healthy.mean, name)), 0.01 * base)),
      ),
    };
  });
}

const idsOf = (analysis: Analysis, f: Functional) =>
  [...new Set([...analysis.measured.ids[f.plus]!, ...(f.minus === null ? [] : analysis.measured.ids[f.minus]!)])].sort();

/** Evidence ledger over the leading codes: what each observation says for and against them, one line each. */
export function ledgerOf(analysis: Analysis, functionals: readonly Weighed[], codes: readonly HypothesisCode[]): LedgerLine[] {
  const name = analysis.input.platform.refrigerant;
  const lines: LedgerLine[] = functionals.map((w) => {
    const broad = broadOf(w.f.plus) * (w.f.unit === 'Pa' ? saturationSlope(name, Math.min(analysis.healthy.mean[w.f.plus]!, 365)) : 1);
    return {
      observation: w.f.observation,
      readings: idsOf(analysis, w.f),
      label: w.f.label,
      seen: w.seen,
      expectedHealthy: w.healthy,
      tolerance: w.tolerance,
      unit: w.f.unit,
      weights: weightsOf(analysis, codes, (_, i) => logDensity1(w.seen - w.mean[i]!, w.sigma[i]!, broad)),
    };
  });
  for (const c of analysis.channels) {
    lines.push({
      observation: c.observation,
      readings: [...c.readings],
      label: c.label,
      seen: c.seen,
      expectedHealthy: c.expectedHealthy,
      tolerance: c.tolerance,
      unit: c.unit,
      weights: weightsOf(analysis, codes, (node) => c.logLikelihood(node)),
    });
  }
  const loudest = (line: LedgerLine) => Math.max(...line.weights.map((w) => Math.abs(w.logOdds)), 0);
  return lines.sort((a, b) => loudest(b) - loudest(a) || (a.observation < b.observation ? -1 : 1));
}

/** Posterior mean of a quantity under one code. */
function expectedUnder(analysis: Analysis, code: HypothesisCode, w: Weighed): number {
  let sum = 0;
  let mass = 0;
  analysis.nodes.forEach((node, i) => {
    if (node.code !== code) return;
    const p = analysis.posterior.nodes[i]! + 1e-12 * node.share;
    sum += p * w.mean[i]!;
    mass += p;
  });
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
    seen: w.seen,
    healthy: w.healthy,
    leader: expectedUnder(analysis, leader, w),
    runnerUp: runnerUp === null ? null : expectedUnder(analysis, runnerUp, w),
  }));
}

/** Observations the leading explanation does not explain: more than three of its own widths off, or a finding that speaks plainly against it. */
export function contradictionsOf(analysis: Analysis, functionals: readonly Weighed[], leader: HypothesisCode): string[] {
  const out: string[] = [];
  let at = -1;
  analysis.nodes.forEach((node, i) => {
    if (node.code === leader && (at < 0 || analysis.posterior.nodes[i]! > analysis.posterior.nodes[at]!)) at = i;
  });
  const best = analysis.nodes[at]!;
  const title = entryOf(leader).name;
  for (const w of functionals) {
    const z = (w.seen - w.mean[at]!) / w.sigma[at]!;
    if (Math.abs(z) > 3)
      out.push(`${w.f.label} is ${Math.abs(z).toFixed(1)} widths ${z > 0 ? 'above' : 'below'} what “${title}” predicts.`);
  }
  for (const c of analysis.channels) {
    const log = c.logLikelihood(best);
    if (c.seen === null) {
      if (log < Math.log(0.3)) out.push(`“${c.label}” speaks against “${title}”.`);
    } else if (log < -6.5) out.push(`${c.label} does not fit “${title}”.`);
  }
  return out;
}

/** Standardised residuals by observation, for the signature. */
export function residualsOf(analysis: Analysis, functionals: readonly Weighed[]): Map<string, number> {
  const out = new Map<string, number>();
  for (const w of functionals) out.set(w.f.observation, (w.seen - w.healthy) / w.tolerance);
  for (const c of analysis.channels as readonly Channel[]) {
    const z = standardised(c);
    if (z !== null) out.set(c.observation, z);
  }
  return out;
}
