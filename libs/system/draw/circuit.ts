import type { Layout } from '../hardware.js';
import type { SystemReadings } from '../result.js';
import { type DisplayUnits, pressureText, temperatureText } from './display-units.js';
import { at, escapeText, picture, polyline, TONE, text } from './svg.js';

/** Part of the circuit that a located restriction is drawn on. */
export type RestrictedPart = 'discharge-line' | 'condenser' | 'cartridge' | 'liquid-line' | 'expansion' | 'suction-line';

export interface CircuitOptions {
  readonly id?: string;
  readonly units?: DisplayUnits;
  /** What a sound system shows here, written beneath each value. */
  readonly sound?: SystemReadings | null;
  readonly restriction?: RestrictedPart | null;
  /** Where inside the condenser the restriction sits, 0 inlet to 1 outlet. */
  readonly restrictionPlace?: number;
}

const WIDTH = 720;
const HEIGHT = 430;
const PART_WORDS: Readonly<Record<RestrictedPart, string>> = {
  'discharge-line': 'the discharge line',
  condenser: 'the condenser passages',
  cartridge: 'the filter cartridge',
  'liquid-line': 'the liquid line or drier',
  expansion: 'the expansion device',
  'suction-line': 'the suction line',
};

interface Spot {
  readonly x: number;
  readonly y: number;
  readonly name: string;
  readonly pressure: (r: SystemReadings) => number;
  readonly temperature: (r: SystemReadings) => number;
}

const SPOTS: readonly Spot[] = [
  { x: 98, y: 150, name: 'discharge', pressure: (r) => r.highSide['compressor-discharge'], temperature: (r) => r.dischargeTemperature },
  { x: 150, y: 34, name: 'condenser in', pressure: (r) => r.highSide['condenser-inlet'], temperature: (r) => r.condenserInletTemperature },
  {
    x: 470,
    y: 34,
    name: 'condenser out',
    pressure: (r) => r.highSide['condenser-outlet'],
    temperature: (r) => r.condenserOutletTemperature,
  },
  { x: 506, y: 206, name: 'before valve', pressure: (r) => r.highSide['valve-inlet'], temperature: (r) => r.liquidAfterDrierTemperature },
  { x: 470, y: 396, name: 'evaporator in', pressure: (r) => r.evaporatorInlet, temperature: (r) => r.evaporatingTemperature },
  {
    x: 190,
    y: 396,
    name: 'evaporator out',
    pressure: (r) => r.lowSide['evaporator-outlet'],
    temperature: (r) => r.evaporatorOutletTemperature,
  },
  { x: 128, y: 278, name: 'suction', pressure: (r) => r.lowSide['compressor-suction'], temperature: (r) => r.suctionTemperature },
];

function box(x: number, y: number, w: number, h: number, label: string): string {
  return `<rect x="${x}" y="${y}" width="${w}" height="${h}" rx="5" fill="none" stroke="${TONE.ink}" stroke-width="1.6"/>${text(x + w / 2, y + h / 2 + 4, label, 12, 'middle')}`;
}

/**
 * The refrigerant circuit as SVG text, with absolute pressure and temperature at its places, the sound values beneath, and a located restriction.
 * High side across the top, low side across the bottom, flow clockwise. No external fonts, no scripts.
 */
export function circuitDiagram(layout: Layout, seen: SystemReadings, options: CircuitOptions = {}): string {
  const { id = 'circuit', sound = null, restriction = null, restrictionPlace = 0.5 } = options;
  const units = options.units ?? { pressure: 'bar', temperature: '°C' };
  const body: string[] = [
    // Pipes, in flow order.
    polyline(
      [
        [86, 190],
        [86, 100],
        [200, 100],
      ],
      TONE.ink,
      2.5,
    ),
    polyline(
      [
        [470, 100],
        [640, 100],
        [640, 236],
      ],
      TONE.ink,
      2.5,
    ),
    polyline(
      [
        [640, 276],
        [640, 340],
        [470, 340],
      ],
      TONE.ink,
      2.5,
    ),
    polyline(
      [
        [200, 340],
        [86, 340],
        [86, 240],
      ],
      TONE.ink,
      2.5,
    ),
    box(46, 190, 80, 50, 'compressor'),
    box(200, 70, 270, 60, 'condenser'),
    box(200, 310, 270, 60, 'evaporator'),
    box(594, 236, 92, 40, layout === 'orifice-accumulator' ? 'orifice tube' : 'valve'),
  ];
  if (layout === 'orifice-accumulator') body.push(box(56, 262, 60, 26, 'accum.'));
  else if (layout === 'valve-receiver') body.push(box(600, 140, 80, 30, 'drier'));
  else body.push(box(474, 76, 26, 48, 'R'));
  for (const spot of SPOTS) {
    const value = `${pressureText(spot.pressure(seen), units)}  ${temperatureText(spot.temperature(seen), units)}`;
    body.push(text(spot.x, spot.y - 12, spot.name, 11), text(spot.x, spot.y + 3, value, 13, 'start', TONE.seen));
    if (sound)
      body.push(
        text(
          spot.x,
          spot.y + 17,
          `sound: ${pressureText(spot.pressure(sound), units)}  ${temperatureText(spot.temperature(sound), units)}`,
          10,
          'start',
          TONE.sound,
        ),
      );
  }
  body.push(text(335, 362, `vent ${temperatureText(seen.ventTemperature, units)}`, 13, 'middle', TONE.seen));
  if (restriction) body.push(mark(restriction, restrictionPlace));
  const words = SPOTS.map(
    (spot) => `${spot.name} ${pressureText(spot.pressure(seen), units)} absolute, ${temperatureText(spot.temperature(seen), units)}`,
  );
  const where = restriction ? ` Restriction located in ${PART_WORDS[restriction]}.` : '';
  return picture(id, WIDTH, HEIGHT, 'Refrigerant circuit with states', `${words.join('; ')}.${where}`, body);
}

/** A pinch mark: two wedges closing on the pipe. */
function mark(part: RestrictedPart, place: number): string {
  const [x, y] = {
    'discharge-line': [140, 100],
    condenser: [200 + 270 * Math.min(Math.max(place, 0.03), 0.97), 118],
    cartridge: [487, 100],
    'liquid-line': [570, 100],
    expansion: [640, 256],
    'suction-line': [140, 340],
  }[part] as [number, number];
  const wedge = (sign: number): string =>
    `${at(x - 9)},${at(y + sign * 13)} ${at(x + 9)},${at(y + sign * 13)} ${at(x)},${at(y + sign * 2)}`;
  return `<g fill="${TONE.seen}"><title>${escapeText(`Restriction in ${PART_WORDS[part]}`)}</title><polygon points="${wedge(-1)}"/><polygon points="${wedge(1)}"/></g>`;
}
