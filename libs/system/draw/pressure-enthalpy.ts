import { type FluidName, fluidTables } from '#libs/refrigerant/index.js';
import type { CyclePoint } from '../result.js';
import { type DisplayUnits, pressureIn, pressureText, temperatureText } from './display-units.js';
import { at, escapeText, picture, polyline, TONE, text, ticks } from './svg.js';

export interface DrawnCycle {
  readonly name: string;
  readonly points: readonly CyclePoint[];
}

export interface PressureEnthalpyOptions {
  readonly id?: string;
  readonly width?: number;
  readonly height?: number;
  /** Pressure axis: linear, or logarithmic as engineers are used to. */
  readonly scale?: 'linear' | 'log';
  readonly units?: DisplayUnits;
}

const MARGIN = { left: 62, right: 16, top: 34, bottom: 48 } as const;
const DOME_POINTS = 60;
const KILO = 1_000;

/** Words for the states, in a description. */
const PLACE_WORDS: Readonly<Record<CyclePoint['place'], string>> = {
  'compressor-suction': 'compressor suction',
  'compressor-discharge': 'compressor discharge',
  'condenser-inlet': 'condenser inlet',
  'condenser-before-restriction': 'inside the condenser, before the restriction',
  'condenser-after-restriction': 'inside the condenser, after the restriction',
  receiver: 'receiver',
  'condenser-outlet': 'condenser outlet',
  'valve-inlet': 'before the expansion device',
  'evaporator-inlet': 'evaporator inlet',
  'evaporator-outlet': 'evaporator outlet',
};

/**
 * The pressure-enthalpy diagram as SVG text: saturation dome, the sound cycle and (overlaid) the one seen.
 *
 * seen     the cycle to explain, solid with round marks        sound   what a sound system does here, dashed with square marks; or null
 * Axes: specific enthalpy in kJ/kg (200 kJ/kg for liquid at 0 °C), absolute pressure in the unit asked for. No external fonts, no scripts.
 */
export function pressureEnthalpyDiagram(
  refrigerant: FluidName,
  seen: DrawnCycle,
  sound: DrawnCycle | null,
  options: PressureEnthalpyOptions = {},
): string {
  const { id = 'pressure-enthalpy', width = 640, height = 440, scale = 'linear' } = options;
  const units = options.units ?? { pressure: 'bar', temperature: '°C' };
  const t = fluidTables(refrigerant);
  const all = [...seen.points, ...(sound?.points ?? [])];
  const hLow = Math.min(150 * KILO, ...all.map((q) => q.enthalpy - 10 * KILO));
  const hHigh = Math.max(460 * KILO, ...all.map((q) => q.enthalpy + 15 * KILO));
  const pLow = scale === 'linear' ? 0 : Math.min(1e5, ...all.map((q) => 0.8 * q.pressure));
  const pHigh = Math.max(t.pCritical, ...all.map((q) => q.pressure)) * 1.03;
  const x = (h: number): number => MARGIN.left + ((h - hLow) / (hHigh - hLow)) * (width - MARGIN.left - MARGIN.right);
  const share = (p: number): number => (scale === 'linear' ? (p - pLow) / (pHigh - pLow) : Math.log(p / pLow) / Math.log(pHigh / pLow));
  const y = (p: number): number => height - MARGIN.bottom - share(p) * (height - MARGIN.top - MARGIN.bottom);

  const body: string[] = [];
  for (const h of ticks(hLow / KILO, hHigh / KILO, 7)) {
    body.push(
      polyline(
        [
          [x(h * KILO), y(pHigh)],
          [x(h * KILO), height - MARGIN.bottom],
        ],
        TONE.faint,
        0.5,
      ),
    );
    body.push(text(x(h * KILO), height - MARGIN.bottom + 16, String(h), 11, 'middle'));
  }
  for (const p of pressureTicks(pLow, pHigh, scale, units)) {
    const pascals = p / pressureIn(1, units);
    body.push(
      polyline(
        [
          [MARGIN.left, y(pascals)],
          [width - MARGIN.right, y(pascals)],
        ],
        TONE.faint,
        0.5,
      ),
    );
    body.push(text(MARGIN.left - 6, y(pascals) + 4, String(p), 11, 'end'));
  }
  body.push(text((MARGIN.left + width - MARGIN.right) / 2, height - 12, 'specific enthalpy, kJ/kg', 12, 'middle'));
  body.push(text(8, 18, `pressure, ${units.pressure} absolute`, 12));

  const low = Math.max(t.pMin, pLow === 0 ? t.pMin : pLow);
  const liquid: [number, number][] = [];
  const vapour: [number, number][] = [];
  for (let i = 0; i <= DOME_POINTS; i++) {
    // Closer together towards the critical point, where the dome bends.
    const p = t.pSaturationMax * (low / t.pSaturationMax) ** ((1 - i / DOME_POINTS) ** 2);
    const held = Math.min(Math.max(p, low), t.pSaturationMax);
    if (t.hLiquid(held) >= hLow) liquid.push([x(t.hLiquid(held)), y(held)]);
    vapour.unshift([x(t.hVapour(held)), y(held)]);
  }
  const top: [number, number] = [0.5 * (liquid.at(-1)![0] + vapour[0]![0]), y(t.pCritical)];
  body.push(polyline([...liquid, top, ...vapour], TONE.ink, 1.2));

  if (sound) body.push(...cycle(sound, TONE.sound, '6 4', 'square'));
  body.push(...cycle(seen, TONE.seen, '', 'round'));
  let legendX = width - MARGIN.right - (sound ? 330 : 165);
  const entries = [
    { one: seen, tone: TONE.seen as string, dash: '' },
    ...(sound ? [{ one: sound, tone: TONE.sound as string, dash: '6 4' }] : []),
  ];
  for (const { one, tone, dash } of entries) {
    body.push(
      polyline(
        [
          [legendX, 14],
          [legendX + 30, 14],
        ],
        tone,
        2.4,
        dash,
      ),
      text(legendX + 36, 18, one.name, 12),
    );
    legendX += 165;
  }
  return picture(id, width, height, `Pressure-enthalpy diagram, ${refrigerant}`, description(), body);

  function cycle(one: DrawnCycle, tone: string, dash: string, mark: 'round' | 'square'): string[] {
    if (one.points.length === 0) return [];
    const places = one.points.map((q) => [x(q.enthalpy), y(q.pressure)] as const);
    const marks = one.points.map((q, i) => {
      const [px, py] = places[i]!;
      const label = `<title>${escapeText(`${one.name}: ${PLACE_WORDS[q.place]}, ${pressureText(q.pressure, units)} absolute, ${temperatureText(q.temperature, units)}`)}</title>`;
      return mark === 'round'
        ? `<circle cx="${at(px)}" cy="${at(py)}" r="3.6" fill="${tone}">${label}</circle>`
        : `<rect x="${at(px - 3)}" y="${at(py - 3)}" width="6" height="6" fill="${tone}">${label}</rect>`;
    });
    return [polyline([...places, places[0]!], tone, 2.2, dash), ...marks];
  }

  function description(): string {
    const say = (one: DrawnCycle): string =>
      `${one.name}: ${one.points.map((q) => `${PLACE_WORDS[q.place]} ${pressureText(q.pressure, units)}, ${temperatureText(q.temperature, units)}`).join('; ')}.`;
    return [say(seen), ...(sound ? [say(sound)] : [])].join(' ');
  }
}

function pressureTicks(low: number, high: number, scale: 'linear' | 'log', units: DisplayUnits): number[] {
  const a = pressureIn(low, units);
  const b = pressureIn(high, units);
  if (scale === 'linear') return ticks(a, b, 7);
  const out: number[] = [];
  for (let decade = 10 ** Math.floor(Math.log10(a)); decade <= b; decade *= 10)
    for (const m of [1, 2, 3, 5]) if (m * decade >= a && m * decade <= b) out.push(Number((m * decade).toPrecision(3)));
  return out;
}
