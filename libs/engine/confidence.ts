import { type ReadingLevel, readingLevel } from './alike.js';
import type { Heard } from './channels/channel.js';

/**
 * Exponent on the probabilities of the hypotheses. Each kind of observation has its doubts put in on its own (effects, findings, wild readings), and where
 * several kinds agree the doubts add up to more than is found. One number an observation set, by the log loss of the tempering seeds (from 3,000,001 on; see
 * docs/validation.md), never on the cases the published figures come from.
 */
const EXPONENT: Readonly<Record<ReadingLevel | 'beyond', number>> = { gauges: 1.08, transducer: 1.2, temperatures: 1.12, beyond: 1.38 };
/** Where known-good readings of the platform or of the vehicle narrow the sound system, the doubts that are left are smaller and are what they say. */
const KNOWN: Readonly<Record<'platform' | 'vehicle', number>> = { platform: 1.13, vehicle: 1.04 };

/** What is known of a system beyond its kind, the nearest level. */
export type KnownLevel = 'platform' | 'vehicle' | null;

/** Pressures at rest and two instruments in one place: checks of the readings, not observations beside them. */
const CHECKS: ReadonlySet<string> = new Set(['rest-difference', 'rest-sides', 'static-excess', 'same-place-difference']);

/** Exponent for what was read: `soaked` when the pressures at rest were taken after a soak, `known` the nearest level beyond the kind. */
export function confidenceOf(present: readonly number[], channels: readonly Heard[], soaked: boolean, known: KnownLevel): number {
  // At rest, or weighed alone, nothing agrees with anything.
  if (present.length === 0) return 1;
  const beyond = channels.some(({ observation }) => !CHECKS.has(observation) || (soaked && observation === 'static-excess'));
  const level = beyond ? 'beyond' : readingLevel(present);
  return known && level === 'temperatures' ? KNOWN[known] : EXPONENT[level];
}
