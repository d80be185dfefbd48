import type { Place, ReadingPhase } from './codes.js';
import type { EngineConditions, EngineInput, EngineReading } from './evidence.js';
import { judgeReading } from './plausibility.js';

/** One value of the stage under judgement, with its gaps filled from the other values where they say enough. */
export interface CanonicalReading extends EngineReading {
  /** Place or phase was inferred from the size of the value. */
  readonly inferred: boolean;
}

export interface CanonicalEvidence {
  readonly readings: readonly CanonicalReading[];
  readonly impossible: readonly EngineReading[];
  readonly unplaced: readonly EngineReading[];
}

const key = (r: EngineReading) => [r.quantity, r.place, r.phase, r.meaning, r.instrument, r.reference, r.value, r.to ?? ''].join('|');
const compare = (a: string, b: string) => (a < b ? -1 : a > b ? 1 : 0);

/**
 * The readings to judge: those of the stage, each value once (the same value entered twice is one reading), in an order that does not
 * depend on how they were typed. Impossible values are set aside, not repaired; a missing phase or side is inferred from the value.
 */
export function canonical(input: EngineInput, barometerPa: number): CanonicalEvidence {
  const stage = input.stage ?? 'before';
  const byKey = new Map<string, EngineReading>();
  for (const reading of input.readings) {
    if ((reading.stage ?? 'before') !== stage) continue;
    const k = key(reading);
    const held = byKey.get(k);
    if (!held || compare(reading.id, held.id) < 0) byKey.set(k, { ...reading, confirmed: reading.confirmed || held?.confirmed });
    else if (reading.confirmed && !held.confirmed) byKey.set(k, { ...held, confirmed: true });
  }
  const sorted = [...byKey.entries()].sort(([a], [b]) => compare(a, b)).map(([, reading]) => reading);
  const context = { platform: input.platform, barometerPa, outsideAirK: input.conditions.outsideAirK };
  const impossible = sorted.filter((r) => judgeReading(r, context).verdict === 'impossible');
  const possible = sorted.filter((r) => !impossible.includes(r));

  const readings: CanonicalReading[] = [];
  const unplaced: EngineReading[] = [];
  for (const reading of possible) {
    const filled = fill(reading, input.conditions, possible);
    if (filled) readings.push(filled);
    else unplaced.push(reading);
  }
  return { readings, impossible, unplaced };
}

function fill(reading: EngineReading, conditions: EngineConditions, all: readonly EngineReading[]): CanonicalReading | undefined {
  if (reading.quantity === 'pressure') {
    const phase: ReadingPhase = reading.phase ?? (conditions.clutchEngaged === false ? 'rest' : 'running');
    const place: Place | undefined = reading.place ?? sideOf(reading, phase, all);
    if (place === undefined) return undefined;
    return { ...reading, phase, place, inferred: reading.phase === undefined || reading.place === undefined };
  }
  if (reading.quantity === 'temperature') {
    if (reading.place === undefined) return undefined;
    return { ...reading, phase: reading.phase ?? 'running', inferred: false };
  }
  return { ...reading, inferred: false };
}

/** Side of a running pressure without a place: above 7 bar only the high side, below 5 bar the low side; between them nobody can say. */
function sideOf(reading: EngineReading, phase: ReadingPhase, all: readonly EngineReading[]): Place | undefined {
  if (reading.instrument === 'vehicle-transducer') return 'high-side-transducer';
  if (phase === 'rest') {
    const taken = all.some((r) => r.quantity === 'pressure' && r.phase === 'rest' && r.place === 'high-side-port');
    return taken ? 'low-side-port' : 'high-side-port';
  }
  if (reading.value > 7e5) return 'high-side-port';
  if (reading.value < 5e5) return 'low-side-port';
  return undefined;
}
