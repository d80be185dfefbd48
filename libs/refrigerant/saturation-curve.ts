import type { FluidName } from './fluid.js';
import { fluid } from './fluids.js';
import { CRITICAL_MARGIN, type Saturation, saturationAtT } from './saturation.js';

/** Lowest temperature of the curve: no vehicle system evaporates colder, K. */
const LOWEST = 233.15;
/** Round degrees, so that a printed table can be held against it; the last points follow the bend at the critical point. */
const STEP = 2;
const BELOW_CRITICAL = [0.5, 0.15, 0.04, CRITICAL_MARGIN] as const;

const made = new Map<FluidName, readonly Saturation[]>();

/**
 * Liquid and vapour in equilibrium from -40 °C in steps of 2 K up to the critical point: the dome of a pressure-enthalpy diagram, from the
 * equation of state itself. SI; h is 200 kJ/kg for saturated liquid at 0 °C. Made once for each fluid, about 80 points in a few milliseconds.
 */
export function saturationCurve(name: FluidName): readonly Saturation[] {
  let points = made.get(name);
  if (!points) {
    const one = fluid(name);
    const { T: critical } = one.record.critical;
    const temperatures: number[] = [];
    for (let i = 0; LOWEST + i * STEP < critical - 2 * BELOW_CRITICAL[0]; i++) temperatures.push(LOWEST + i * STEP);
    points = Object.freeze([...temperatures, ...BELOW_CRITICAL.map((below) => critical - below)].map((T) => saturationAtT(one, T)));
    made.set(name, points);
  }
  return points;
}
