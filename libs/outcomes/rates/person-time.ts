import { BadSample } from '#libs/numeric/index.js';
import type { Interval } from '../intervals/binomial.js';
import { exactPoisson } from '../intervals/poisson.js';

/**
 * Events per unit of watched time, with the exact Poisson interval.
 *
 * rate = events/time
 *
 * time > 0 in the clock's unit. Source: Garwood (1936) for the limits.
 */
export interface Rate {
  readonly events: number;
  readonly time: number;
  readonly rate: number;
  readonly interval: Interval;
}

export function rate(events: number, time: number, level = 0.95): Rate {
  return Object.freeze({ events, time, rate: events / time, interval: exactPoisson(events, time, level) });
}

/**
 * Watched time of one vehicle split at an event, so that nobody is exposed before the event happened (no immortal time).
 *
 * exposed = (A + blanking, A + blanking + window] inside (from, until], reference = the rest of (from, until] outside every blanking and window
 *
 * from, until: watching on the clock, from < until. exposures: times of A in any order; those at or after `until` do nothing, those
 * before `from` still count for the part of their window inside. blanking >= 0: time after A that belongs to neither (the same visit);
 * window > 0: how long A counts, Infinity for ever. Overlapping windows merge; a later blanking inside an earlier window stays neither.
 * Source: Suissa (2008), Am. J. Epidemiol. 167:492, on immortal time.
 */
export interface WatchedTime {
  readonly from: number;
  readonly until: number;
  readonly exposures: readonly number[];
}

export type Exposure = 'exposed' | 'reference' | 'neither';

export interface SplitRule {
  readonly blanking: number;
  readonly window: number;
}

export interface TimePart {
  readonly from: number;
  readonly until: number;
  readonly kind: Exposure;
}

export function splitAtEvent(watched: WatchedTime, rule: SplitRule): readonly TimePart[] {
  const { from, until, exposures } = watched;
  if (!(from < until) || !Number.isFinite(from) || !Number.isFinite(until)) throw new BadSample(`watched from ${from} until ${until}`);
  if (!(rule.blanking >= 0 && rule.window > 0)) throw new BadSample(`blanking ${rule.blanking} or window ${rule.window} is out of range`);
  const cuts = new Set([from, until]);
  for (const a of exposures) {
    for (const cut of [a, a + rule.blanking, a + rule.blanking + rule.window]) if (cut > from && cut < until) cuts.add(cut);
  }
  const ordered = [...cuts].sort((x, y) => x - y);
  const parts: TimePart[] = [];
  for (let i = 0; i + 1 < ordered.length; i++) {
    const kind = kindAt((ordered[i]! + ordered[i + 1]!) / 2, exposures, rule);
    const last = parts.at(-1);
    if (last?.kind === kind) parts[parts.length - 1] = { ...last, until: ordered[i + 1]! };
    else parts.push({ from: ordered[i]!, until: ordered[i + 1]!, kind });
  }
  return Object.freeze(parts.map((part) => Object.freeze(part)));
}

/** What the time t counts as; at a border, the part that ends there. */
export function kindAt(t: number, exposures: readonly number[], { blanking, window }: SplitRule): Exposure {
  let kind: Exposure = 'reference';
  for (const a of exposures) {
    if (t > a && t <= a + blanking) return 'neither';
    if (t > a + blanking && t <= a + blanking + window) kind = 'exposed';
  }
  return kind;
}
