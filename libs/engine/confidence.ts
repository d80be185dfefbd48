import { type ReadingLevel, readingLevel } from './alike.js';
import type { Heard } from './channels/channel.js';

/**
 * Exponent on the probabilities of the hypotheses. Each kind of observation has its doubts put in on its own (effects, findings, wild readings), and where
 * several kinds agree the doubts add up to more than is found. One number an observation set, by the log loss of the tempering seeds (from 3,000,001 on; see
 * docs/validation.md), never on the cases the published figures come from.
 */
const EXPONENT: Readonly<Record<ReadingLevel | 'beyond', number>> = { gauges: 1.05, transducer: 1.1, temperatures: 1, beyond: 1.15 };

/** Pressures at rest and two instruments in one place: checks of the readings, not observations beside them. */
const CHECKS: ReadonlySet<string> = new Set(['rest-difference', 'rest-sides', 'static-excess', 'same-place-difference']);

/** Exponent for what was read: `soaked` when the pressures at rest were taken after a soak. */
export function confidenceOf(present: readonly number[], channels: readonly Heard[], soaked: boolean): number {
  // At rest, or weighed alone, nothing agrees with anything.
  if (present.length === 0) return 1;
  const beyond = channels.some(({ observation }) => !CHECKS.has(observation) || (soaked && observation === 'static-excess'));
  return EXPONENT[beyond ? 'beyond' : readingLevel(present)];
}
