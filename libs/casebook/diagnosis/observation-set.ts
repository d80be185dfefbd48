import type { Evidence, ObservationSet } from '#libs/contracts/index.js';

const AIR_PLACES: ReadonlySet<string> = new Set(['vent', 'outside', 'condenser-air-inlet', 'evaporator-air-inlet']);

/** What was read before any repair, in the words figures are grouped by. */
export function observationSetOf({ readings }: Evidence): ObservationSet {
  const before = readings.filter((reading) => (reading.stage ?? 'before') === 'before');
  const running = before.filter((reading) => reading.quantity === 'pressure' && reading.phase !== 'rest');
  const isTransducer = (place: string | undefined, instrument: string | undefined) =>
    instrument === 'vehicle-transducer' || place?.endsWith('-transducer') === true;
  const low = running.some(({ place }) => place !== undefined && LOW_SIDE.has(place));
  const high = running.some(({ place }) => place !== undefined && HIGH_SIDE.has(place));
  if (!low || !high) return 'sparse';
  const byTransducer = running.some(({ place, instrument }) => isTransducer(place, instrument));
  const byGauge = running.some(({ place, instrument }) => place !== undefined && HIGH_SIDE.has(place) && !isTransducer(place, instrument));
  const surfaces = before.some(({ quantity, place }) => quantity === 'temperature' && place !== undefined && !AIR_PLACES.has(place));
  const both = byTransducer && byGauge;
  if (surfaces) return both ? 'full' : 'temperatures';
  return both ? 'gauges-transducer' : 'gauges';
}

const LOW_SIDE: ReadonlySet<string> = new Set([
  'low-side-port',
  'low-side-transducer',
  'compressor-suction',
  'accumulator',
  'evaporator-outlet',
  'valve-outlet',
]);
const HIGH_SIDE: ReadonlySet<string> = new Set([
  'high-side-port',
  'high-side-transducer',
  'compressor-discharge',
  'condenser-inlet',
  'condenser-outlet',
  'liquid-line-before-drier',
  'liquid-line-after-drier',
  'valve-inlet',
]);
