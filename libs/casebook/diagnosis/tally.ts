import type { LeadingAnswer, Rediagnosis } from '#libs/contracts/index.js';

/** A probability that moved by this much is worth a look. */
export const MOVED = 0.1;

/** Counts of a run as they are kept with it: added to batch by batch. */
export interface Tally {
  readonly compared: number;
  readonly moved: number;
  readonly movement: number;
  readonly stayed: number;
  readonly failed: number;
  readonly from: Readonly<Record<string, number>>;
  /** "before>now" and how often. */
  readonly transitions: Readonly<Record<string, number>>;
}

export const EMPTY_TALLY: Tally = { compared: 0, moved: 0, movement: 0, stayed: 0, failed: 0, from: {}, transitions: {} };

/** A case before and after. `fromVersion` is null when it had no answer before. */
export interface Compared {
  readonly fromVersion: string | null;
  readonly from: LeadingAnswer;
  readonly fromProbability: number | null;
  readonly to: LeadingAnswer;
  readonly toProbability: number | null;
}

export const movementOf = (one: Compared): number | null =>
  one.from === one.to && one.fromProbability !== null && one.toProbability !== null
    ? Math.abs(one.toProbability - one.fromProbability)
    : null;

export const isChange = (one: Compared): boolean =>
  one.to === 'failed' || (one.fromVersion !== null && (one.from !== one.to || (movementOf(one) ?? 0) >= MOVED));

export function addedTo(tally: Tally, batch: readonly Compared[]): Tally {
  const from = { ...tally.from };
  const transitions = { ...tally.transitions };
  let { compared, moved, movement, stayed, failed } = tally;
  for (const one of batch) {
    if (one.to === 'failed') failed++;
    if (one.fromVersion === null) continue;
    compared++;
    from[one.fromVersion] = (from[one.fromVersion] ?? 0) + 1;
    const key = `${one.from}>${one.to}`;
    transitions[key] = (transitions[key] ?? 0) + 1;
    const shift = movementOf(one);
    if (shift === null) continue;
    stayed++;
    movement += shift;
    if (shift >= MOVED) moved++;
  }
  return { compared, moved, movement, stayed, failed, from, transitions };
}

type Report = Pick<
  Rediagnosis,
  'compared' | 'leadingChanged' | 'nowAnswered' | 'nowCannotTell' | 'moved' | 'meanMoved' | 'failed' | 'from' | 'transitions'
>;

export function reportOf(tally: Tally): Report {
  const transitions = Object.entries(tally.transitions)
    .map(([key, count]) => {
      const [from, to] = key.split('>') as [LeadingAnswer, LeadingAnswer];
      return { from, to, count };
    })
    .sort((a, b) => b.count - a.count || (a.from + a.to < b.from + b.to ? -1 : 1));
  const sum = (test: (one: (typeof transitions)[number]) => boolean) =>
    transitions.filter((one) => one.to !== 'failed' && test(one)).reduce((total, { count }) => total + count, 0);
  return {
    compared: tally.compared,
    leadingChanged: sum(({ from, to }) => from !== to),
    nowAnswered: sum(({ from, to }) => from === 'cannot-tell' && to !== 'cannot-tell'),
    nowCannotTell: sum(({ from, to }) => from !== 'cannot-tell' && to === 'cannot-tell'),
    moved: tally.moved,
    meanMoved: tally.stayed === 0 ? null : tally.movement / tally.stayed,
    failed: tally.failed,
    from: Object.entries(tally.from)
      .map(([engineVersion, count]) => ({ engineVersion, count }))
      .sort((a, b) => b.count - a.count),
    transitions,
  };
}
