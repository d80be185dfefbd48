import { linkageWeighted, reportingDelay } from '#libs/outcomes/index.js';
import { seeded } from './outcomes-random.js';

export interface LinkageStudy {
  readonly truth: number;
  readonly observed: number;
  readonly corrected: number;
}

/** Four returns in ten go elsewhere, half of those are linked; watching ends evenly between 60 and 400 days. Means over the studies. */
export function linkageStudy(studies: number, episodes: number, seed: number): LinkageStudy {
  const random = seeded(seed);
  const horizon = 180;
  const rate = -Math.log(1 - 0.6) / horizon;
  const sum = { observed: 0, corrected: 0 };
  for (let s = 0; s < studies; s++) {
    const elsewhere: number[] = [];
    const spells = Array.from({ length: episodes }, () => {
      const watched = 60 + 340 * random.uniform();
      const life = random.exponential() / rate;
      const away = random.uniform() < 0.4;
      const seen = life <= watched && (!away || random.uniform() < 0.5);
      elsewhere.push(away ? 1 : 0);
      return { time: seen ? life : watched, end: seen ? 1 : 0 };
    });
    const got = linkageWeighted(spells, elsewhere, 0.5, 1, horizon);
    sum.observed += got.observed / studies;
    sum.corrected += got.corrected / studies;
  }
  return { truth: 0.6, observed: sum.observed, corrected: sum.corrected };
}

export interface DelayStudy {
  /** Share recorded within 0, 1, .. weeks: true, estimated, and the plain share among the records. */
  readonly truth: readonly number[];
  readonly estimated: readonly number[];
  readonly plain: readonly number[];
}

/** Delays of 0 to 8 weeks, geometric; events evenly over the last 20 weeks, seen when recorded by now. */
export function delayStudy(events: number, seed: number): DelayStudy {
  const random = seeded(seed);
  const last = 8;
  const weights = Array.from({ length: last + 1 }, (_, x) => 0.7 ** x);
  const total = weights.reduce((a, b) => a + b, 0);
  let running = 0;
  const truth = weights.map((w) => {
    running += w / total;
    return running;
  });
  const records = Array.from({ length: events }, () => {
    const u = random.uniform();
    return { delay: truth.findIndex((g) => u <= g), longest: Math.floor(random.uniform() * 20) };
  }).filter((r) => r.delay >= 0 && r.delay <= r.longest);
  const plain = truth.map((_, x) => records.filter((r) => r.delay <= x).length / records.length);
  const estimated = [...reportingDelay(records.map((r) => ({ delay: r.delay, longest: Math.min(r.longest, last) })))];
  return { truth, estimated, plain };
}
