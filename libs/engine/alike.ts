import { ALIKE } from './calibration/alike-table.js';
import { groupKey } from './calibration/model.js';
import { entryOf } from './catalogue/entries.js';
import type { HypothesisCode } from './codes.js';
import { CMD, D0, D1, Q1, Q2, SPD, TC, TD, TQ1, TQ2, TS } from './dims.js';
import type { EnginePlatform } from './evidence.js';

/** How much of the running circuit was read. */
export type ReadingLevel = 'gauges' | 'transducer' | 'temperatures';

/** Two of these make the surface temperatures of a case. */
const SURFACE: readonly number[] = [TS, TQ1, TQ2, TD, TC];

export function readingLevel(present: readonly number[]): ReadingLevel {
  const has = (i: number) => present.includes(i);
  if (SURFACE.filter(has).length >= 2) return 'temperatures';
  return (has(D0) || has(D1)) && (has(Q1) || has(Q2)) ? 'transducer' : 'gauges';
}

/** Row and column of the table a case's readings belong to. `present` holds the dimensions that were read. */
export function alikeKey(platform: EnginePlatform, present: readonly number[]): string {
  const has = (i: number) => present.includes(i);
  const level = readingLevel(present);
  const driven = platform.compressor !== 'fixed-clutch' && (has(CMD) || has(SPD));
  return `${groupKey(platform.layout, platform.compressor)} ${level}${driven ? ' driven' : ''}`;
}

/** Instruments that differ say that one is wrong, not which. */
const BIASES: readonly HypothesisCode[] = ['pressure-sensor-bias', 'gauge-bias', 'transducer-bias'];

/**
 * Faults these readings cannot tell apart: the table's classes for what was read of the running circuit (`calibration/alike-table.ts`), less every fault that
 * another observation (weight, soak, a look, equalisation) speaks of, and the instruments. At most four faults a class.
 */
export function alikeFaults(platform: EnginePlatform, present: readonly number[], observations: ReadonlySet<string>): HypothesisCode[][] {
  const told = (code: HypothesisCode) => entryOf(code).seenBy.some((o) => observations.has(o));
  const classes = (ALIKE[alikeKey(platform, present)] ?? []).map((codes) => codes.filter((code) => !told(code)));
  return [...classes, BIASES].filter((codes) => codes.length > 1).map((codes) => [...codes]);
}
