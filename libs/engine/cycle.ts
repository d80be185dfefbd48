import { fluidTables } from '#libs/refrigerant/index.js';
import { analyse } from './analysis.js';
import type { Place, RefrigerantName } from './codes.js';
import { D0, D1, DIM_PLACE, DIMS, E, L, Q1, Q2, TD, TQ1, TQ2, TS } from './dims.js';
import type { EngineInput } from './evidence.js';
import { saturationPressure, saturationSlope, saturationTemperature } from './saturation.js';

/** One state of the refrigerant on its way round, SI; pressure absolute, enthalpy 200 kJ/kg for saturated liquid at 0 °C. */
export interface CircuitState {
  readonly place: Place;
  readonly pressurePa: number;
  /** Where the pressure was read or expected: the place itself, or its neighbour along an open line. */
  readonly pressureAt: Place;
  readonly saturationK: number;
  /** Null where no temperature is known. */
  readonly temperatureK: number | null;
  /** Null where pressure and temperature do not tell it: no temperature, or a state that may be a mixture. */
  readonly enthalpyJPerKg: number | null;
  readonly phase: 'liquid' | 'mixture' | 'vapour' | null;
  /** Not read but reckoned: throttling leaves the enthalpy as it was. */
  readonly reckoned: boolean;
  /** One standard deviation of what is expected; null of what was read. */
  readonly pressureErrorPa: number | null;
  readonly temperatureErrorK: number | null;
  /** Identities of the readings behind it. */
  readonly readings: readonly string[];
}

export interface CircuitCycles {
  readonly refrigerant: RefrigerantName;
  /** In flow order, from the compressor inlet. */
  readonly healthy: readonly CircuitState[];
  readonly seen: readonly CircuitState[];
  readonly cautions: readonly string[];
}

/**
 * Nearer to saturation than this, pressure and temperature do not tell liquid from mixture or mixture from vapour, K: what a contact probe and
 * a gauge are good for together (common practice).
 */
const NEAR_SATURATION_K = 1.5;

/** Places in flow order with the dimensions their pressure may come from (own first, then along an open line) and that of their temperature. */
const STATES: readonly { readonly place: Place; readonly pressures: readonly number[]; readonly temperature: number }[] = [
  { place: 'compressor-suction', pressures: [L, E], temperature: TS },
  { place: 'compressor-discharge', pressures: [D0, D1], temperature: TD },
  { place: 'condenser-inlet', pressures: [D1], temperature: TD },
  { place: 'condenser-outlet', pressures: [Q1, Q2], temperature: TQ1 },
  { place: 'valve-inlet', pressures: [Q2, Q1], temperature: TQ2 },
];

interface Source {
  readonly refrigerant: RefrigerantName;
  /** Dimensions, NaN where unknown, and the absolute pressures behind the pressure dimensions. */
  readonly x: Float64Array;
  readonly pa: Float64Array;
  readonly ids: readonly (readonly string[])[] | null;
  readonly covariance: Float64Array | null;
}

/**
 * The circuit's states in pressure and enthalpy: what a sound system of this kind is expected to show in this weather (the expectation every
 * answer is judged by), and what was read, as far as the readings give it. A pressure without a temperature, or with one too near saturation, gives a level and
 * no point. Between neighbours a pressure is borrowed along an open line (discharge line, liquid line, suction line) and never across the condenser.
 */
export function circuitCycles(input: EngineInput): CircuitCycles {
  const { refrigerant } = input.platform;
  const { healthy, measured } = analyse(input, true);
  const expected = Float64Array.from(healthy.mean, (T) => saturationPressure(refrigerant, T));
  const seen = statesOf({ refrigerant, x: measured.x, pa: measured.pa, ids: measured.ids, covariance: null });
  return {
    refrigerant,
    healthy: statesOf({ refrigerant, x: healthy.mean, pa: expected, ids: null, covariance: healthy.covariance }),
    seen,
    cautions: cautionsOf(refrigerant, seen),
  };
}

function statesOf(source: Source): CircuitState[] {
  const out: CircuitState[] = [];
  const own = (dims: readonly number[]) => dims.find((dim) => Number.isFinite(source.pa[dim]!));
  for (const { place, pressures, temperature } of STATES) {
    const from = own(pressures);
    if (from === undefined) continue;
    const known = Number.isFinite(source.x[temperature]!);
    // Said by its neighbour already.
    if (from !== pressures[0] && !known) continue;
    if (place === 'condenser-inlet' && !Number.isFinite(source.pa[D0]!)) continue;
    out.push(stateAt(source, place, from, known ? temperature : null));
  }
  const low = own([E, L]);
  const liquid = out.findLast(({ phase }) => phase === 'liquid');
  if (low !== undefined && liquid) out.push(throttled(source, low, liquid.enthalpyJPerKg!));
  if (Number.isFinite(source.pa[E]!)) out.push(stateAt(source, 'evaporator-outlet', E, Number.isFinite(source.x[TS]!) ? TS : null));
  // The evaporator's end is the compressor's beginning: one pressure on the low side gives one state there.
  return low === E && !Number.isFinite(source.pa[L]!) ? out.filter(({ place }) => place !== 'compressor-suction') : out;
}

function stateAt(source: Source, place: Place, from: number, temperature: number | null): CircuitState {
  const { refrigerant, ids } = source;
  const pressurePa = source.pa[from]!;
  const saturationK = saturationTemperature(refrigerant, pressurePa);
  const temperatureK = temperature === null ? null : source.x[temperature]!;
  const phase = temperatureK === null ? null : phaseOf(temperatureK - saturationK);
  return {
    place,
    pressurePa,
    pressureAt: DIM_PLACE[from]!,
    saturationK,
    temperatureK,
    phase,
    enthalpyJPerKg: temperatureK === null || phase === 'mixture' ? null : enthalpy(refrigerant, pressurePa, temperatureK),
    reckoned: false,
    pressureErrorPa: errorOf(source, from, saturationSlope(refrigerant, Math.min(saturationK, 365))),
    temperatureErrorK: temperature === null ? null : errorOf(source, temperature, 1),
    readings: ids === null ? [] : [...new Set([...ids[from]!, ...(temperature === null ? [] : ids[temperature]!)])],
  };
}

function throttled(source: Source, from: number, enthalpyJPerKg: number): CircuitState {
  const state = stateAt(source, 'valve-outlet', from, null);
  const { hLiquid } = fluidTables(source.refrigerant);
  const mixed = enthalpyJPerKg > hLiquid(state.pressurePa);
  return { ...state, temperatureK: mixed ? state.saturationK : null, phase: mixed ? 'mixture' : 'liquid', enthalpyJPerKg, reckoned: true };
}

const phaseOf = (aboveSaturationK: number): 'liquid' | 'mixture' | 'vapour' =>
  aboveSaturationK > NEAR_SATURATION_K ? 'vapour' : aboveSaturationK < -NEAR_SATURATION_K ? 'liquid' : 'mixture';

/** Null beyond the tables: an impossible reading is judged elsewhere, and must not stop the drawing. */
function enthalpy(name: RefrigerantName, p: number, T: number): number | null {
  const tables = fluidTables(name);
  if (!(p >= tables.pMin && p <= tables.pMax)) return null;
  try {
    return tables.hPT(p, T);
  } catch {
    return null;
  }
}

function errorOf({ covariance }: Source, dim: number, scale: number): number | null {
  return covariance === null ? null : scale * Math.sqrt(Math.max(covariance[dim * DIMS + dim]!, 0));
}

function cautionsOf(refrigerant: RefrigerantName, seen: readonly CircuitState[]): string[] {
  return [
    `Enthalpies hold for pure ${refrigerant}: with air, oil or another refrigerant in the circuit the states lie elsewhere.`,
    'Healthy is what sound systems of this kind are expected to show in this weather; single vehicles differ by about the errors given. It rests on published service windows and simulated systems, not on this vehicle.',
    'States are joined by straight lines: what happens between them is not reckoned. All readings should be of one settled minute.',
    ...(seen.some(({ phase, reckoned }) => phase === 'mixture' && !reckoned)
      ? [
          `Within ${NEAR_SATURATION_K} K of saturation, pressure and temperature do not tell how much of it is vapour: such a state is a level and no point.`,
        ]
      : []),
    ...(seen.some(({ temperatureK, reckoned }) => temperatureK === null && !reckoned)
      ? ['A pressure without a temperature beside it is a level and no point: a thermometer on the pipe there would place it.']
      : []),
  ];
}
