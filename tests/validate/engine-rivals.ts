import { type HypothesisCode, signatureDimensions } from '#libs/engine/index.js';
import { priorOf } from '#libs/engine/priors.js';
import type { Case } from './engine-cases.js';

/** What a rival makes of a case: probability of every class, most probable first. */
export type Answer = readonly { readonly name: string; readonly p: number }[];

function ranked(sums: ReadonlyMap<string, number>): Answer {
  const total = [...sums.values()].reduce((a, b) => a + b, 0);
  return [...sums].map(([name, p]) => ({ name, p: p / total })).sort((a, b) => b.p - a.p || (a.name < b.name ? -1 : 1));
}

/** The engine's own prior and nothing read. */
export function byPrior(drawn: Case): Answer {
  const sums = new Map<string, number>();
  for (const [code, p] of priorOf(drawn.input)) sums.set(drawn.classOf(code), (sums.get(drawn.classOf(code)) ?? 0) + p);
  return ranked(sums);
}

/**
 * Signs of residuals under a fault for [low side (evaporating), superheat, high side (condensing), subcooling, discharge temperature, vent].
 * First five rows: Rossi and Braun 1997 as reprinted in Li's report on rooftop units, table 1-1 (the vent against the air difference, turned round);
 * the others in the same manner from service manuals (common practice).
 */
const SIGNS: Partial<Record<HypothesisCode, readonly [number, number, number, number, number, number]>> = {
  undercharge: [-1, 1, -1, -1, 1, 1],
  'compressor-leakage': [1, -1, -1, -1, -1, 1],
  'liquid-line-restriction': [-1, 1, -1, 1, 1, 1],
  'condenser-dirt': [1, -1, 1, -1, 1, 1],
  'evaporator-fouling': [-1, -1, -1, -1, -1, -1],
  'condenser-fan': [1, -1, 1, -1, 1, 1],
  'evaporator-airflow': [-1, -1, -1, -1, -1, -1],
  overcharge: [1, -1, 1, 1, 0, 1],
  'air-in-system': [1, 0, 1, 1, 1, 1],
  'condenser-passages': [0, 0, 1, -1, 1, 1],
  'filter-cartridge': [0, 0, 1, -1, 1, 0],
  'valve-restricted': [-1, 1, -1, 1, 1, 1],
  'orifice-clogged': [-1, 1, 0, 1, 1, 1],
  'valve-stuck-open': [1, -1, 1, -1, -1, 1],
  'orifice-oversize': [1, -1, -1, -1, -1, 1],
  'suction-restriction': [-1, 1, -1, 0, 1, 1],
  'clutch-slip': [1, 0, -1, 0, -1, 1],
  'displacement-stuck-low': [1, 0, -1, 0, -1, 1],
  'electric-compressor-limited': [1, 0, -1, 0, -1, 1],
  'compressor-inhibited': [1, 0, -1, -1, -1, 1],
  'air-door': [0, 0, 0, 0, 0, 1],
  healthy: [0, 0, 0, 0, 0, 0],
};
const WATCHED = ['low-pressure', 'superheat', 'discharge-pressure', 'subcooling', 'discharge-temperature', 'vent-temperature'];
/** A residual within one of its widths has no sign. */
const NEUTRAL = 1;

/** The literature's sign table on the same residuals; agreement counts two to one, so that it has probabilities to be judged by. */
export function bySigns(drawn: Case, signature: readonly (number | null)[]): Answer {
  const signs = WATCHED.map((name) => {
    const z = signature[signatureDimensions.indexOf(name)] ?? null;
    return z === null ? null : Math.abs(z) < NEUTRAL ? 0 : Math.sign(z);
  });
  const sums = new Map<string, number>();
  for (const code of priorOf(drawn.input).keys()) {
    const row = SIGNS[code];
    const score = row ? signs.reduce((sum: number, s, k) => sum + (s === null ? 0 : s === row[k] ? 1 : -1), 0) : -WATCHED.length;
    const name = drawn.classOf(code);
    sums.set(name, (sums.get(name) ?? 0) + 2 ** score);
  }
  return ranked(sums);
}

/** Residuals as features: value (held to ±6) and whether it was read. */
function features(signature: readonly (number | null)[]): Float64Array {
  const out = new Float64Array(1 + 2 * signature.length);
  out[0] = 1;
  signature.forEach((z, i) => {
    if (z === null) return;
    out[1 + 2 * i] = Math.min(Math.max(z, -6), 6) / 3;
    out[2 + 2 * i] = 1;
  });
  return out;
}

/** Multinomial logistic regression of the fault as drawn on the signature. */
export class Logistic {
  private readonly codes: HypothesisCode[];
  private readonly weights: Float64Array[];

  /** Learns by Adam in full batches with a ridge of 1e-3; 400 steps are past where its loss on held-out cases stops falling. */
  constructor(cases: readonly { readonly truth: HypothesisCode; readonly signature: readonly (number | null)[] }[]) {
    this.codes = [...new Set(cases.map((c) => c.truth))].sort();
    const x = cases.map((c) => features(c.signature));
    const truth = cases.map((c) => this.codes.indexOf(c.truth));
    const n = x[0]!.length;
    const zeros = () => this.codes.map(() => new Float64Array(n));
    this.weights = zeros();
    const [first, second] = [zeros(), zeros()];
    for (let step = 1; step <= 400; step++) {
      const slope = zeros();
      x.forEach((row, i) => {
        const p = this.shares(row);
        p.forEach((q, c) => {
          const miss = q - (c === truth[i] ? 1 : 0);
          for (let k = 0; k < n; k++) slope[c]![k]! += (miss * row[k]!) / x.length;
        });
      });
      this.weights.forEach((w, c) => {
        for (let k = 0; k < n; k++) {
          const g = slope[c]![k]! + 1e-3 * w[k]!;
          first[c]![k] = 0.9 * first[c]![k]! + 0.1 * g;
          second[c]![k] = 0.999 * second[c]![k]! + 0.001 * g * g;
          w[k]! -= (0.05 * first[c]![k]!) / (1 - 0.9 ** step) / (Math.sqrt(second[c]![k]! / (1 - 0.999 ** step)) + 1e-8);
        }
      });
    }
  }

  private shares(row: Float64Array): Float64Array {
    const out = new Float64Array(this.codes.length);
    let top = Number.NEGATIVE_INFINITY;
    this.weights.forEach((w, c) => {
      let sum = 0;
      for (let k = 0; k < row.length; k++) sum += w[k]! * row[k]!;
      out[c] = sum;
      if (sum > top) top = sum;
    });
    let total = 0;
    for (let c = 0; c < out.length; c++) {
      out[c] = Math.exp(out[c]! - top);
      total += out[c]!;
    }
    return out.map((p) => p / total);
  }

  /** Hardware the case cannot have is left out, as the engine leaves it out. */
  answer(drawn: Case, signature: readonly (number | null)[]): Answer {
    const p = this.shares(features(signature));
    const possible = priorOf(drawn.input);
    const sums = new Map<string, number>();
    this.codes.forEach((code, c) => {
      if (possible.has(code)) sums.set(drawn.classOf(code), (sums.get(drawn.classOf(code)) ?? 0) + p[c]!);
    });
    return ranked(sums);
  }
}

/** Mean log loss in nats, held at 1e-4 as in the study, with half its 95 % interval. */
export function lossOf(losses: readonly number[]): { readonly mean: number; readonly half: number } {
  const mean = losses.reduce((a, b) => a + b, 0) / losses.length;
  const variance = losses.reduce((a, b) => a + (b - mean) ** 2, 0) / Math.max(losses.length - 1, 1);
  return { mean, half: 1.96 * Math.sqrt(variance / losses.length) };
}
export const logLoss = (answer: Answer, truth: string): number => -Math.log(Math.max(answer.find((a) => a.name === truth)?.p ?? 0, 1e-4));
