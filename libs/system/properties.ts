import { OutOfRange } from '#libs/numeric/index.js';
import { type FluidName, type FluidTables, fluidTables } from '#libs/refrigerant/index.js';

/** Lowest pressure of the model, Pa absolute: a compressor pulling against a closed inlet reaches about this. */
export const LOWEST_PRESSURE = 30_000;
/** Heat capacities used beyond the tables' enthalpy bounds only, J/(kg K). */
const CP_BEYOND_VAPOUR = 1_150;
const CP_BEYOND_LIQUID = 1_300;

/**
 * A mixture's density has a corner at saturated liquid, and a circuit with a receiver rests exactly there. Within this band of quality either side
 * the vapour share is rounded to (x + d)^2/(4 d), the same in value and slope at both ends: bubbles come and go before a mean quality shows any.
 */
const FLASH_BAND = 2e-3;

/**
 * The refrigerant tables continued beyond their enthalpy bounds by a constant heat capacity, so that a trial step of the solver meets a finite,
 * monotone property instead of an exception. Results that rest on such a continuation are flagged by the readings (`beyondTables`).
 */
export interface Properties {
  readonly tables: FluidTables;
  readonly T: (p: number, h: number) => number;
  readonly rho: (p: number, h: number) => number;
  /** Density of flowing liquid for resistances and valves: as `rho`, but with the corner at incipient flashing rounded (see FLASH_BAND). */
  readonly rhoFlow: (p: number, h: number) => number;
  readonly s: (p: number, h: number) => number;
  readonly hPS: (p: number, s: number) => number;
  readonly pSat: (T: number) => number;
}

const made = new Map<FluidName, Properties>();

export function propertiesOf(name: FluidName): Properties {
  let one = made.get(name);
  if (!one) {
    one = continued(fluidTables(name));
    made.set(name, one);
  }
  return one;
}

function continued(tables: FluidTables): Properties {
  const { hMin, hMax } = tables;
  const T = (p: number, h: number): number => {
    if (h > hMax) return tables.T(p, hMax) + (h - hMax) / CP_BEYOND_VAPOUR;
    if (h < hMin) return tables.T(p, hMin) - (hMin - h) / CP_BEYOND_LIQUID;
    return tables.T(p, h);
  };
  const rho = (p: number, h: number): number => {
    if (h > hMax) return (tables.rho(p, hMax) * tables.T(p, hMax)) / T(p, h);
    return tables.rho(p, h < hMin ? hMin : h);
  };
  return Object.freeze({
    tables,
    T,
    rho,
    rhoFlow: (p: number, h: number): number => {
      const hL = tables.hLiquid(p);
      const x = (h - hL) / (tables.hVapour(p) - hL);
      if (x <= -FLASH_BAND || x >= FLASH_BAND) return rho(p, h);
      const rhoL = tables.rhoLiquid(p);
      const own = x < 0 ? rho(p, h) : rhoL;
      return 1 / (1 / own + ((x + FLASH_BAND) ** 2 / (4 * FLASH_BAND)) * (1 / tables.rhoVapour(p) - 1 / rhoL));
    },
    s: (p: number, h: number): number => {
      if (h > hMax) return tables.s(p, hMax) + (h - hMax) / T(p, hMax);
      if (h < hMin) return tables.s(p, hMin) - (hMin - h) / T(p, hMin);
      return tables.s(p, h);
    },
    hPS: (p: number, s: number): number => {
      try {
        return tables.hPS(p, s);
      } catch (error) {
        if (!(error instanceof OutOfRange)) throw error;
        const sTop = tables.s(p, hMax);
        return s > sTop ? hMax + (s - sTop) * tables.T(p, hMax) : hMin;
      }
    },
    pSat: (t: number): number => tables.pSat(Math.min(Math.max(t, tables.tSaturationMin), tables.tSaturationMax)),
  });
}
