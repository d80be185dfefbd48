import {
  CATALOGUE,
  diagnose,
  type EngineInput,
  type EngineReading,
  type EngineResult,
  explainBySimulation,
  type FaultCode,
  type HypothesisCode,
} from '#libs/engine/index.js';
import { priorOf } from '#libs/engine/priors.js';
import { type Case, drawCase, type ObservationSet } from './engine-cases.js';
import { normal, random } from './engine-draws.js';
import { byClass } from './engine-metrics.js';
import { cheapestRepair, costOf, plainProcedure } from './engine-repair-cost.js';
import { byPrior, bySigns, Logistic, logLoss, lossOf } from './engine-rivals.js';
import { casesFrom } from './engine-study.js';

export interface Compared {
  readonly mean: number;
  /** Half its 95 % interval. */
  readonly half: number;
  readonly top1: number;
}

const first = (answer: readonly { readonly name: string }[], truth: string) => (answer[0]!.name === truth ? 1 : 0);
const mean = (xs: readonly number[]) => xs.reduce((a, b) => a + b, 0) / xs.length;

const RIVALS = ['engine', 'told', 'same', 'rated', 'prior', 'signs', 'logistic'] as const;
const kindOf = (c: Case) => `${c.layout} ${c.input.platform.compressor}`;

/** What was proved on each kind of system, as the engine takes it for its prior. Health is never proved. */
function provedOn(cases: readonly Case[]): Map<string, { readonly code: FaultCode; readonly count: number }[]> {
  const kinds = new Map<string, Map<FaultCode, number>>();
  for (const c of cases) {
    if (c.truth === 'healthy') continue;
    const counts = kinds.get(kindOf(c)) ?? new Map<FaultCode, number>();
    kinds.set(kindOf(c), counts.set(c.fault.code, (counts.get(c.fault.code) ?? 0) + 1));
  }
  return new Map([...kinds].map(([kind, counts]) => [kind, [...counts].map(([code, count]) => ({ code, count }))]));
}

/**
 * Engine, prior, sign table and logistic regression on the same cases in one run; the regression learned on others of the same judge. `told` is the
 * engine given the regression's own labels as causes proved on that kind of system: the same knowledge of how often each fault comes in. `same` leaves
 * out, besides, what was never among the labels, as the regression does: 15 of the engine's 38 hypotheses never occur among this judge's cases. `rated`
 * knows as well how many of the labels were sound, which no proof tells the engine: its odds of a sound system are taken from its prior to the labels' share.
 */
export function rivals(
  count: number,
  learned: number,
  firstSeed: number,
  set: ObservationSet,
): Record<(typeof RIVALS)[number], Compared> & { readonly lead: { readonly mean: number; readonly half: number } } {
  const signatureOf = (drawn: Case) => diagnose(drawn.input).signature.values;
  const lessons = [...casesFrom(firstSeed + 1_000_000, learned, set)];
  const model = new Logistic(lessons.map((drawn) => ({ truth: drawn.truth, signature: signatureOf(drawn) })));
  const proved = provedOn(lessons);
  const labels = new Set<string>(lessons.map((drawn) => drawn.truth));
  const ofLabels = (result: EngineResult): EngineResult => {
    const faults = result.faults.filter((f) => labels.has(f.code));
    const held = faults.reduce((sum, f) => sum + f.probability, 0);
    return { ...result, faults: faults.map((f) => ({ ...f, probability: f.probability / held })) };
  };
  const sound = lessons.filter((drawn) => drawn.truth === 'healthy').length / lessons.length;
  const rate = (drawn: Case, result: EngineResult): EngineResult => {
    const before = priorOf(drawn.input).get('healthy')!;
    const weigh = (code: HypothesisCode) => (code === 'healthy' ? sound / before : (1 - sound) / (1 - before));
    const faults = result.faults.map((f) => ({ ...f, probability: f.probability * weigh(f.code) }));
    const total = faults.reduce((sum, f) => sum + f.probability, 0);
    return { ...result, faults: faults.map((f) => ({ ...f, probability: f.probability / total })) };
  };
  const empty = () => ({
    engine: [] as number[],
    told: [] as number[],
    same: [] as number[],
    rated: [] as number[],
    prior: [] as number[],
    signs: [] as number[],
    logistic: [] as number[],
  });
  const losses = empty();
  const right = empty();
  for (const drawn of casesFrom(firstSeed, count, set)) {
    const truth = drawn.classOf(drawn.truth);
    const result = diagnose(drawn.input);
    const signature = result.signature.values;
    const told = diagnose({ ...drawn.input, prior: { platformProved: proved.get(kindOf(drawn)) ?? [] } });
    const answers = {
      engine: byClass(result, drawn.classOf),
      told: byClass(told, drawn.classOf),
      same: byClass(ofLabels(told), drawn.classOf),
      rated: byClass(rate(drawn, ofLabels(told)), drawn.classOf),
      prior: byPrior(drawn),
      signs: bySigns(drawn, signature),
      logistic: model.answer(drawn, signature),
    };
    for (const who of RIVALS) {
      losses[who].push(logLoss(answers[who], truth));
      right[who].push(first(answers[who], truth));
    }
  }
  const line = (who: keyof typeof losses): Compared => ({ ...lossOf(losses[who]), top1: mean(right[who]) });
  return {
    engine: line('engine'),
    told: line('told'),
    same: line('same'),
    rated: line('rated'),
    prior: line('prior'),
    signs: line('signs'),
    logistic: line('logistic'),
    lead: lossOf(losses.rated.map((x, i) => x - losses.logistic[i]!)),
  };
}

/** Expected wrong-repair cost of the engine's decision and of the plain procedure on the same cases, shares of a full repair. */
export function repairCosts(
  count: number,
  firstSeed: number,
  set: ObservationSet,
): { engine: number; plain: number; saved: number; half: number } {
  const engine: number[] = [];
  const plain: number[] = [];
  const u = random(firstSeed + 99);
  for (const drawn of casesFrom(firstSeed, count, set)) {
    engine.push(costOf(cheapestRepair(diagnose(drawn.input)), drawn));
    plain.push(
      costOf(
        plainProcedure(drawn, () => normal(u)),
        drawn,
      ),
    );
  }
  const { half } = lossOf(engine.map((x, i) => x - plain[i]!));
  return { engine: mean(engine), plain: mean(plain), saved: 1 - mean(engine) / mean(plain), half: half / mean(plain) };
}

/** Mean log loss of the fitted path and of brute simulation on the same cases, nats; the difference with half its 95 % interval. */
export function againstSimulation(
  count: number,
  firstSeed: number,
  draws: number,
): { fitted: number; simulated: number; difference: number; half: number } {
  const fitted: number[] = [];
  const simulated: number[] = [];
  for (const drawn of casesFrom(firstSeed, count, 'full')) {
    const truth = drawn.classOf(drawn.truth);
    fitted.push(logLoss(byClass(diagnose(drawn.input), drawn.classOf), truth));
    const sums = new Map<string, number>();
    for (const { code, probability } of explainBySimulation(drawn.input, draws).codes) {
      sums.set(drawn.classOf(code), (sums.get(drawn.classOf(code)) ?? 0) + probability);
    }
    simulated.push(
      logLoss(
        [...sums].map(([name, p]) => ({ name, p })),
        truth,
      ),
    );
  }
  const difference = lossOf(fitted.map((x, i) => x - simulated[i]!));
  return { fitted: mean(fitted), simulated: mean(simulated), difference: difference.mean, half: difference.half };
}

/** Cases of one kind of system: what one of them read another could have read. */
function byKind(drawn: readonly Case[]): Case[][] {
  const kinds = new Map<string, Case[]>();
  for (const c of drawn) {
    const { compressor, refrigerant } = c.input.platform;
    const kind = `${c.layout} ${compressor} ${refrigerant}`;
    kinds.set(kind, [...(kinds.get(kind) ?? []), c]);
  }
  return [...kinds.values()].filter((group) => group.length > 2);
}

/**
 * The whole evidence of one case with the truth of another of the same kind of system. Each case is coherent in itself, so no engine can notice;
 * being right more often than the prior would mean that something of the truth reaches the engine by another way than the readings.
 */
export function foreignTruth(count: number, firstSeed: number): { engine: Compared; prior: Compared } {
  const losses = { engine: [] as number[], prior: [] as number[] };
  const right = { engine: [] as number[], prior: [] as number[] };
  for (const group of byKind([...casesFrom(firstSeed, count, 'full')])) {
    group.forEach((c, i) => {
      const name = c.classOf(group[(i + 1) % group.length]!.truth);
      const answers = { engine: byClass(diagnose(c.input), c.classOf), prior: byPrior(c) };
      for (const who of ['engine', 'prior'] as const) {
        losses[who].push(logLoss(answers[who], name));
        right[who].push(first(answers[who], name));
      }
    });
  }
  const line = (who: keyof typeof losses): Compared => ({ ...lossOf(losses[who]), top1: mean(right[who]) });
  return { engine: line('engine'), prior: line('prior') };
}

/** Every reading replaced by the like reading of another case of the same kind of system, drawn for each anew; findings from one other case; own conditions. */
export function mixedReadings(drawn: readonly Case[], seed: number): Case[] {
  const u = random(seed);
  const pick = <T>(xs: readonly T[]): T => xs[Math.min(Math.floor(u() * xs.length), xs.length - 1)]!;
  const like = (r: EngineReading) => `${r.quantity} ${r.place} ${r.phase} ${r.meaning}`;
  return byKind(drawn).flatMap((group) => {
    const pool = new Map<string, { readonly of: Case; readonly reading: EngineReading }[]>();
    for (const of of group) {
      for (const reading of of.input.readings) pool.set(like(reading), [...(pool.get(like(reading)) ?? []), { of, reading }]);
    }
    return group.map((c) => {
      const readings = c.input.readings.flatMap((r) => {
        const others = pool.get(like(r))!.filter((o) => o.of !== c);
        return others.length > 0 ? [{ ...pick(others).reading, id: r.id }] : [];
      });
      const { findings } = pick(group.filter((o) => o !== c)).input;
      return { ...c, input: { ...c.input, readings, findings } };
    });
  });
}

const MISTAKES = new Set<string>(CATALOGUE.filter((e) => e.kind === 'measurement').map((e) => e.code));

/**
 * Cases whose readings do not belong together. "The measurement is wrong" leaves the vehicle's faults where the prior had them, so its share is spread
 * over them by the prior; `plain` counts it as a fault of its own that was never drawn.
 */
export function foreignReadings(count: number, firstSeed: number, set: ObservationSet): Record<'engine' | 'plain' | 'prior', Compared> {
  const losses = { engine: [] as number[], plain: [] as number[], prior: [] as number[] };
  const right = { engine: [] as number[], plain: [] as number[], prior: [] as number[] };
  for (const c of mixedReadings([...casesFrom(firstSeed, count, set)], firstSeed)) {
    const name = c.classOf(c.truth);
    const prior = byPrior(c);
    const plain = byClass(diagnose(c.input), c.classOf);
    const mistakes = new Set([...MISTAKES].map((code) => c.classOf(code as HypothesisCode)).filter((k) => k !== name));
    const share = (of: readonly { readonly name: string; readonly p: number }[]) =>
      of.reduce((sum, a) => sum + (mistakes.has(a.name) ? a.p : 0), 0);
    const [wrong, rest] = [share(plain), 1 - share(prior)];
    const answer = prior
      .filter((a) => !mistakes.has(a.name))
      .map((a) => ({ name: a.name, p: (plain.find((x) => x.name === a.name)?.p ?? 0) + (wrong * a.p) / rest }))
      .sort((a, b) => b.p - a.p);
    const answers = { engine: answer, plain, prior };
    for (const who of ['engine', 'plain', 'prior'] as const) {
      losses[who].push(logLoss(answers[who], name));
      right[who].push(first(answers[who], name));
    }
  }
  const line = (who: keyof typeof losses): Compared => ({ ...lossOf(losses[who]), top1: mean(right[who]) });
  return { engine: line('engine'), plain: line('plain'), prior: line('prior') };
}

/** Restrictions inside the condenser with port and transducer taken for each other: share of verdicts that move away from them. */
export function swappedPlaces(count: number, firstSeed: number): { cases: number; found: number; kept: number } {
  let cases = 0;
  let found = 0;
  let kept = 0;
  const inside = (input: EngineInput) => ['condenser-passages', 'filter-cartridge'].includes(diagnose(input).faults[0]!.code);
  for (let seed = firstSeed; cases < count && seed < firstSeed + 40 * count; seed++) {
    const drawn = drawCase(seed, 'gauges+transducer', { fault: { code: 'condenser-passages', size: 0.8 } });
    const { platform } = drawn?.input ?? {};
    if (!drawn || !platform?.highSidePort || platform.highSidePort === platform.highSideTransducer) continue;
    if (!drawn.input.readings.some((r) => r.place === 'high-side-transducer' && r.phase === 'running')) continue;
    cases++;
    if (!inside(drawn.input)) continue;
    found++;
    const swapped = { ...platform, highSidePort: platform.highSideTransducer, highSideTransducer: platform.highSidePort };
    if (inside({ ...drawn.input, platform: swapped })) kept++;
  }
  return { cases, found, kept };
}

/** Change of the true fault's probability when one true reading, drawn at random, is added: mean and half its 95 % interval. */
export function addedReading(
  count: number,
  firstSeed: number,
): { cases: number; mean: number; half: number; logMean: number; logHalf: number } {
  const u = random(firstSeed);
  const changes: number[] = [];
  const logs: number[] = [];
  for (const drawn of casesFrom(firstSeed, count, 'full')) {
    const { readings } = drawn.input;
    const left = Math.min(Math.floor(u() * readings.length), readings.length - 1);
    const p = (input: EngineInput) => {
      const answer = byClass(diagnose(input), (code) => code);
      return Math.max(answer.find((a) => a.name === drawn.truth)?.p ?? 0, 1e-4);
    };
    const without = p({ ...drawn.input, readings: readings.filter((_: EngineReading, i: number) => i !== left) });
    const all = p(drawn.input);
    changes.push(all - without);
    logs.push(Math.log(all / without));
  }
  const change = lossOf(changes);
  const log = lossOf(logs);
  return { cases: changes.length, mean: change.mean, half: change.half, logMean: log.mean, logHalf: log.half };
}
