import type { FaultCode, Layout, Place } from './codes.js';
import type { EnginePlatform } from './evidence.js';

/** Places of the high side in the order the refrigerant passes them. */
export const HIGH_SIDE: readonly Place[] = [
  'compressor-discharge',
  'condenser-inlet',
  'condenser-outlet',
  'liquid-line-before-drier',
  'liquid-line-after-drier',
  'valve-inlet',
];
/** Places of the low side in the order the refrigerant passes them. */
export const LOW_SIDE: readonly Place[] = ['valve-outlet', 'evaporator-core', 'evaporator-outlet', 'accumulator', 'compressor-suction'];

export function isHighSide(place: Place): boolean {
  return HIGH_SIDE.includes(place) || place === 'high-side-port' || place === 'high-side-transducer';
}
export function isLowSide(place: Place): boolean {
  return LOW_SIDE.includes(place) || place === 'low-side-port' || place === 'low-side-transducer';
}

/** Where the movable places stand for one reading of the platform; what the platform leaves open is one of several seatings. */
export interface Seating {
  readonly port: Place;
  readonly transducer: Place;
  readonly lowPort: Place;
  /** Share of platforms built so, for places the platform leaves open. */
  readonly weight: number;
}

const OPEN_HIGH: readonly (readonly [Place, number])[] = [
  ['condenser-inlet', 0.45],
  ['condenser-outlet', 0.55],
];

/**
 * All seatings of port and transducer compatible with the platform, with weights summing to 1.
 * Both ends of the condenser are common for either (common practice); a known place leaves one seating.
 */
export function seatings(platform: EnginePlatform): Seating[] {
  const choices = (known: Place | null | undefined) => (known && isHighSide(known) ? ([[known, 1]] as const) : OPEN_HIGH);
  const lowPort =
    platform.lowSidePort && isLowSide(platform.lowSidePort)
      ? platform.lowSidePort
      : platform.layout === 'orifice-accumulator'
        ? 'accumulator'
        : 'compressor-suction';
  return choices(platform.highSidePort).flatMap(([port, a]) =>
    choices(platform.highSideTransducer).map(([transducer, b]) => ({ port, transducer, lowPort, weight: a * b })),
  );
}

/** The fixed place a named place stands for. */
export function seat(place: Place, seating: Seating): Place {
  if (place === 'high-side-port') return seating.port;
  if (place === 'high-side-transducer') return seating.transducer;
  if (place === 'low-side-port' || place === 'low-side-transducer') return seating.lowPort;
  return place;
}

/** What can block between two neighbouring places of the high side. */
function blockers(after: Place, layout: Layout): FaultCode[] {
  switch (after) {
    case 'compressor-discharge':
      return ['discharge-line-restriction'];
    case 'condenser-inlet':
      return layout === 'valve-integral-receiver' ? ['condenser-passages', 'filter-cartridge'] : ['condenser-passages'];
    default:
      return ['liquid-line-restriction'];
  }
}

/** Faults that can lose pressure between two places of one side, in flow order; empty when the places coincide or are not of one side. */
export function restrictionsBetween(after: Place, before: Place, layout: Layout): FaultCode[] {
  const from = HIGH_SIDE.indexOf(after);
  const to = HIGH_SIDE.indexOf(before);
  if (from >= 0 && to > from) {
    return [...new Set(HIGH_SIDE.slice(from, to).flatMap((place) => blockers(place, layout)))];
  }
  if (LOW_SIDE.indexOf(after) >= 0 && LOW_SIDE.indexOf(before) > LOW_SIDE.indexOf(after)) return ['suction-restriction'];
  return [];
}

const PLACE_WORDS: Partial<Record<Place, string>> = {
  'compressor-discharge': 'the compressor outlet',
  'condenser-inlet': 'the condenser inlet',
  'condenser-outlet': 'the condenser outlet',
  'liquid-line-before-drier': 'the liquid line before the drier',
  'liquid-line-after-drier': 'the liquid line after the drier',
  'valve-inlet': 'the expansion device',
  'evaporator-outlet': 'the evaporator outlet',
  accumulator: 'the accumulator',
  'compressor-suction': 'the compressor inlet',
};
export function placeWords(place: Place): string {
  return PLACE_WORDS[place] ?? place.replaceAll('-', ' ');
}
