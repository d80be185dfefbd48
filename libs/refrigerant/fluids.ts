import type { FluidName, FluidRecord } from './fluid.js';
import { type Helmholtz, helmholtzOf } from './helmholtz.js';
import { R134A } from './r134a.js';
import { R152A } from './r152a.js';
import { R1234YF } from './r1234yf.js';

/** A fluid ready for evaluation: its record and its equation of state. */
export interface Fluid {
  readonly name: FluidName;
  readonly record: FluidRecord;
  readonly eos: Helmholtz;
}

const RECORDS: Readonly<Record<FluidName, FluidRecord>> = Object.freeze({ 'R-134a': R134A, 'R-1234yf': R1234YF, 'R-152a': R152A });

export const FLUID_NAMES: readonly FluidName[] = Object.freeze(Object.keys(RECORDS) as FluidName[]);

/** Any coefficient record made ready: how a refrigerant that is not built in comes in. */
export function fluidOf(record: FluidRecord): Fluid {
  return Object.freeze({ name: record.name, record, eos: helmholtzOf(record) });
}

const ready = new Map<FluidName, Fluid>();

/** The fluid of this name, made once. */
export function fluid(name: FluidName): Fluid {
  let one = ready.get(name);
  if (!one) {
    one = fluidOf(RECORDS[name]);
    ready.set(name, one);
  }
  return one;
}
