import type { NewReading, Place, Platform } from '../client/generated/api.ts';

export interface Point {
  readonly x: number;
  readonly y: number;
}

/** The circuit as drawn: once around from the compressor, with the places along it. */
export const LOOP: readonly (Point & { readonly place?: Place })[] = [
  { x: 250, y: 205, place: 'compressor' },
  { x: 250, y: 160, place: 'compressor-discharge' },
  { x: 250, y: 85 },
  { x: 330, y: 85, place: 'condenser-inlet' },
  { x: 500, y: 85, place: 'condenser-surface' },
  { x: 670, y: 85, place: 'condenser-outlet' },
  { x: 770, y: 85 },
  { x: 770, y: 125, place: 'liquid-line-before-drier' },
  { x: 770, y: 205, place: 'liquid-line-after-drier' },
  { x: 770, y: 285, place: 'valve-inlet' },
  { x: 770, y: 375, place: 'valve-outlet' },
  { x: 770, y: 410 },
  { x: 500, y: 410, place: 'evaporator-core' },
  { x: 345, y: 410, place: 'evaporator-outlet' },
  { x: 250, y: 410 },
  { x: 250, y: 350, place: 'accumulator' },
  { x: 250, y: 265, place: 'compressor-suction' },
  { x: 250, y: 205 },
];

/** Air and other places beside the circuit. */
const BESIDE: Partial<Record<Place, Point>> = {
  'condenser-air-inlet': { x: 500, y: 30 },
  vent: { x: 510, y: 468 },
  'evaporator-air-inlet': { x: 430, y: 468 },
};

export function pointOf(place: Place): Point | null {
  return LOOP.find((one) => one.place === place) ?? BESIDE[place] ?? null;
}

/** The stretch of the loop between two places, in the direction of flow; null when they do not both lie on it in that order. */
export function stretch(after: Place, before: Place): readonly Point[] | null {
  const from = LOOP.findIndex(({ place }) => place === after);
  const to = LOOP.findIndex(({ place }) => place === before);
  return from < 0 || to <= from ? null : LOOP.slice(from, to + 1);
}

type Taps = Pick<Platform, 'highSidePort' | 'highSideTransducer' | 'lowSidePort'>;

/** Ports and transducers stand where the platform says; without a platform they stay at no place of the drawing. */
export function placeOf(reading: Pick<NewReading, 'place'>, platform: Taps | null): Place | null {
  if (reading.place === 'high-side-port') return platform?.highSidePort ?? null;
  if (reading.place === 'high-side-transducer') return platform?.highSideTransducer ?? null;
  if (reading.place === 'low-side-port' || reading.place === 'low-side-transducer') return platform?.lowSidePort ?? 'compressor-suction';
  return reading.place ?? null;
}
