import type { CircuitState } from '../client/generated/api.ts';
import type { Cell } from '../shell/csv.ts';
import { inSentence, words } from '../shell/words.ts';
import { pressureDifference, pressureIn, temperatureText, type Units } from './quantities.ts';

type Place = CircuitState['place'];

/** A state with its heat known: it has a place on the diagram. Without, it is a pressure and no more. */
export interface CyclePoint extends CircuitState {
  readonly enthalpyJPerKg: number;
}
export const isPoint = (state: CircuitState): state is CyclePoint => state.enthalpyJPerKg !== null;

const FLOW: readonly Place[] = [
  'compressor-suction',
  'compressor-discharge',
  'condenser-inlet',
  'condenser-outlet',
  'valve-inlet',
  'valve-outlet',
  'evaporator-outlet',
];
export const inFlowOrder = (states: readonly CircuitState[]): readonly CircuitState[] =>
  [...states].sort((a, b) => FLOW.indexOf(a.place) - FLOW.indexOf(b.place));

/** Stretches of neighbouring states that can be joined: nothing is drawn through a state whose heat is not known. */
export function stretches(states: readonly CircuitState[]): readonly (readonly CyclePoint[])[] {
  const out: CyclePoint[][] = [[]];
  for (const state of inFlowOrder(states)) {
    if (isPoint(state)) out.at(-1)!.push(state);
    else out.push([]);
  }
  // The last state flows into the first.
  const [first, last] = [out[0]!, out.at(-1)!];
  if (out.length === 1) return first.length > 2 ? [[...first, first[0]!]] : first.length > 0 ? [first] : [];
  if (first.length > 0 && last.length > 0) {
    out[0] = [...last, ...first];
    out.pop();
  }
  return out.filter(({ length }) => length > 0);
}

const kilojoules = (joules: number) => (joules / 1_000).toFixed(0);
const at = (states: readonly CircuitState[], ...places: readonly Place[]) =>
  places.map((place) => states.find((state) => state.place === place)).find((state) => state !== undefined);

/** One state in words. */
export function sentenceOf(state: CircuitState, kind: 'healthy' | 'seen', units: Units): string {
  const { place, pressureAt, pressurePa, temperatureK, saturationK, enthalpyJPerKg, phase, reckoned } = state;
  const apart = temperatureK === null ? 0 : Math.abs(temperatureK - saturationK);
  const kelvins = units.temperature === 'Cel' ? `${apart.toFixed(0)} K` : `${(1.8 * apart).toFixed(0)} °F`;
  return [
    `${words(place)}, ${kind === 'healthy' ? 'healthy' : reckoned ? 'reckoned' : 'seen'}: ${pressureDifference(pressurePa, units.pressure)} absolute`,
    pressureAt === place || reckoned ? '' : ` (as at the ${inSentence(pressureAt)})`,
    temperatureK === null ? ', no temperature' : `, ${temperatureText(temperatureK, units.temperature)}`,
    phase === 'vapour' && temperatureK !== null ? `, vapour ${kelvins} above saturation` : '',
    phase === 'liquid' && temperatureK !== null ? `, liquid ${kelvins} below saturation` : '',
    phase === 'mixture' && !reckoned ? ', at saturation: liquid, vapour or both' : '',
    phase === 'mixture' && reckoned ? ', liquid and vapour' : '',
    enthalpyJPerKg === null ? '.' : `, ${kilojoules(enthalpyJPerKg)} kJ/kg.`,
  ].join('');
}

/** A row for each place, healthy beside seen. */
export function rowsOf(healthy: readonly CircuitState[], seen: readonly CircuitState[], units: Units): Cell[][] {
  const digits = units.pressure === 'bar' ? 1 : 0;
  const pressure = (state: CircuitState | undefined, expected: boolean): Cell => {
    if (!state) return null;
    const value = pressureIn(state.pressurePa, units.pressure).toFixed(digits);
    const error = state.pressureErrorPa;
    return expected && error !== null ? `${value} ± ${pressureIn(error, units.pressure).toFixed(digits)}` : value;
  };
  const temperature = (state: CircuitState | undefined): Cell => {
    if (!state || state.temperatureK === null) return null;
    const error = state.temperatureErrorK;
    const text = temperatureText(state.temperatureK, units.temperature);
    return error === null ? text : `${text} ± ${(units.temperature === 'Cel' ? error : 1.8 * error).toFixed(0)}`;
  };
  const heat = (state: CircuitState | undefined): Cell =>
    !state || state.enthalpyJPerKg === null ? null : kilojoules(state.enthalpyJPerKg);
  return FLOW.flatMap((place) => {
    const [h, s] = [at(healthy, place), at(seen, place)];
    if (!h && !s) return [];
    return [[words(place), pressure(h, true), pressure(s, false), temperature(h), temperature(s), heat(h), heat(s)]];
  });
}

/** What is to be seen in the diagram, for this car. */
export function whatItShows(healthy: readonly CircuitState[], seen: readonly CircuitState[], units: Units): string[] {
  const out: string[] = [];
  const before = at(seen, 'compressor-discharge', 'condenser-inlet');
  const after = at(seen, 'valve-inlet', 'condenser-outlet');
  if (before && after && before.pressureAt !== after.pressureAt) {
    const sound = (place: Place) => at(healthy, place)?.pressurePa;
    const [from, to] = [sound(before.pressureAt), sound(after.pressureAt) ?? at(healthy, 'valve-inlet', 'condenser-outlet')?.pressurePa];
    const lost = pressureDifference(before.pressurePa - after.pressurePa, units.pressure);
    out.push(
      `From the ${inSentence(before.pressureAt)} to the ${inSentence(after.pressureAt)} ${lost} of pressure is lost${
        from === undefined || to === undefined ? '' : `, ${pressureDifference(from - to, units.pressure)} in a sound system`
      }.`,
    );
  }
  const takenUp = (states: readonly CircuitState[]): number | null => {
    const [cold, warm] = [at(states, 'valve-outlet'), at(states, 'compressor-suction', 'evaporator-outlet')];
    return cold && warm && isPoint(cold) && isPoint(warm) ? warm.enthalpyJPerKg - cold.enthalpyJPerKg : null;
  };
  const [sound, taken] = [takenUp(healthy), takenUp(seen)];
  if (taken !== null)
    out.push(
      `A kilogram takes up ${kilojoules(taken)} kJ on its way from the valve to the compressor${sound === null ? '' : `, ${kilojoules(sound)} kJ in a sound system`}.`,
    );
  if (!seen.some(isPoint) && seen.length > 0)
    out.push('Only pressures were read, so they are levels: a thermometer on the pipes beside the gauges would place the corners.');
  if (seen.length === 0) out.push('No pressure of the running system was read, so only the sound system is drawn.');
  return out;
}
