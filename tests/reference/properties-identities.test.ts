import { describe, expect, it } from '@jest/globals';
import fc from 'fast-check';
import {
  FLUID_NAMES,
  fluid,
  pressureAt,
  saturationAtP,
  saturationAtT,
  saturationTMax,
  stateAtPH,
  stateAtPS,
  stateAtTP,
  stateAtTRho,
} from '#libs/refrigerant/index.js';

// What thermodynamics demands of any equation of state, whatever its coefficients: no table is needed to check it.

const RUNS = { numRuns: 200, seed: 20_240_601 };
const relative = (a: number, b: number): number => Math.abs(a / b - 1);

/** Derivative by central differences at two steps and Richardson extrapolation: error O(step^4). */
function derivative(f: (x: number) => number, x: number, step: number): number {
  const d = (h: number): number => (f(x + h) - f(x - h)) / (2 * h);
  return (4 * d(step) - d(2 * step)) / 3;
}

describe.each(FLUID_NAMES)('%s', (name) => {
  const one = fluid(name);
  const { critical, equation } = one.record;
  /** From -50 °C: colder, the liquid's pressure is a difference of terms 1e6 times larger. */
  const saturationT = fc.double({ min: 223, max: saturationTMax(one) - 1, noNaN: true });
  const side = fc.boolean();
  const unit = fc.double({ min: 0.001, max: 0.999, noNaN: true });

  /** A stable single-phase (T, rho): below the critical temperature outside the dome, above it anywhere up to 1.5 times critical density. */
  const stable = fc.tuple(fc.double({ min: 230, max: equation.TMax - 1, noNaN: true }), unit, side).map(([T, share, liquid]) => {
    if (T > critical.T - 0.5) return { T: Math.max(T, critical.T + 2), rho: share * 1.5 * critical.rho };
    const sat = saturationAtT(one, T);
    return { T, rho: liquid ? sat.rhoL * (1 + 0.08 * share) : sat.rhoV * share };
  });

  it('has equal pressure, temperature and Gibbs energy in both phases', () => {
    fc.assert(
      fc.property(saturationT, (T) => {
        const sat = saturationAtT(one, T);
        expect(relative(pressureAt(one, T, sat.rhoV), sat.p)).toBeLessThan(1e-12);
        // The liquid's pressure to rounding of its stiffness: dp = rho (dp/drho) 1e-13.
        expect(Math.abs(pressureAt(one, T, sat.rhoL) - sat.p)).toBeLessThan(1e-12 * sat.rhoL * sat.liquid.w ** 2 + 1e-9 * sat.p);
        expect(Math.abs(sat.liquid.g - sat.vapour.g)).toBeLessThan(1e-6);
      }),
      RUNS,
    );
  });

  it('obeys Clausius-Clapeyron: dp/dT = (hV - hL)/(T (vV - vL))', () => {
    fc.assert(
      fc.property(saturationT, (T) => {
        const sat = saturationAtT(one, T);
        const slope = (sat.hV - sat.hL) / (T * (1 / sat.rhoV - 1 / sat.rhoL));
        const numeric = derivative((x) => saturationAtT(one, x).p, T, Math.min(0.2, (saturationTMax(one) - T) / 20));
        expect(relative(numeric, slope)).toBeLessThan(1e-6);
      }),
      RUNS,
    );
  });

  it('obeys the Maxwell relation (ds/drho)_T = -(dp/dT)_rho / rho^2', () => {
    fc.assert(
      fc.property(stable, ({ T, rho }) => {
        const ds = derivative((x) => stateAtTRho(one, T, x).s, rho, rho * 1e-3);
        const dp = derivative((x) => stateAtTRho(one, x, rho).p, T, T * 1e-3);
        expect(relative(ds, -dp / rho ** 2)).toBeLessThan(1e-5);
      }),
      RUNS,
    );
  });

  it('has cv = (du/dT)_rho, cp = (dh/dT)_p and w^2 = (dp/drho)_s', () => {
    fc.assert(
      fc.property(stable, ({ T, rho }) => {
        const state = stateAtTRho(one, T, rho);
        expect(
          relative(
            derivative((x) => stateAtTRho(one, x, rho).u, T, T * 1e-3),
            state.cv,
          ),
        ).toBeLessThan(1e-6);
        // At constant p and at constant s by the chain rule on numeric derivatives in (T, rho).
        const pT = derivative((x) => stateAtTRho(one, x, rho).p, T, T * 1e-3);
        const pR = derivative((x) => stateAtTRho(one, T, x).p, rho, rho * 1e-3);
        const hT = derivative((x) => stateAtTRho(one, x, rho).h, T, T * 1e-3);
        const hR = derivative((x) => stateAtTRho(one, T, x).h, rho, rho * 1e-3);
        const sT = derivative((x) => stateAtTRho(one, x, rho).s, T, T * 1e-3);
        const sR = derivative((x) => stateAtTRho(one, T, x).s, rho, rho * 1e-3);
        // Where dp/drho nearly vanishes (close above the critical point) cp is a ratio of small numbers.
        const loss = 1 + state.cp / state.cv;
        expect(relative(hT - (hR * pT) / pR, state.cp)).toBeLessThan(1e-5 * loss);
        expect(relative(pR - (pT * sR) / sT, state.w ** 2)).toBeLessThan(1e-5 * loss);
      }),
      RUNS,
    );
  });

  it('comes back from (T, p), (p, h) and (p, s) to the density it started with', () => {
    fc.assert(
      fc.property(stable, ({ T, rho }) => {
        const state = stateAtTRho(one, T, rho);
        fc.pre(state.p < 2e7);
        // Rounding of p, h or s, divided by how strongly they depend on density.
        const soft = 1e-9 * (1 + state.cp / state.cv);
        expect(relative(stateAtTP(one, T, state.p).rho, rho)).toBeLessThan(soft);
        for (const back of [stateAtPH(one, state.p, state.h), stateAtPS(one, state.p, state.s)]) {
          expect(relative(back.rho, rho)).toBeLessThan(soft);
          expect(relative(back.T, T)).toBeLessThan(soft);
          expect(back.quality).toBeNull();
        }
      }),
      RUNS,
    );
  });

  it('finds the quality of a mixture from its enthalpy and from its entropy', () => {
    fc.assert(
      fc.property(saturationT, unit, (T, quality) => {
        const sat = saturationAtT(one, T);
        const h = sat.hL + quality * (sat.hV - sat.hL);
        const s = sat.sL + quality * (sat.sV - sat.sL);
        const byH = stateAtPH(one, sat.p, h);
        const byS = stateAtPS(one, sat.p, s);
        const margin = 1e-9 * (sat.hL / (sat.hV - sat.hL) + 1);
        expect(Math.abs(byH.quality! - quality)).toBeLessThan(margin);
        expect(Math.abs(byS.quality! - quality)).toBeLessThan(margin);
        expect(relative(byH.T, T)).toBeLessThan(1e-11);
      }),
      RUNS,
    );
  });

  it('finds no wrong root in 20,000 random states beside saturation', () => {
    // A linear congruential walk (Numerical Recipes' constants) is random enough here and needs no seed handling.
    let walk = 12_345;
    const random = (): number => {
      walk = (Math.imul(walk, 1_664_525) + 1_013_904_223) >>> 0;
      return walk / 4_294_967_296;
    };
    const wrong: unknown[] = [];
    for (let i = 0; i < 20_000; i++) {
      const T = 210 + random() * (saturationTMax(one) - 0.1 - 210);
      const sat = saturationAtT(one, T);
      const liquid = random() < 0.5;
      // From a part in a million to a quarter away from the saturation pressure, on the stable side.
      const share = 10 ** (-6 + 5.4 * random());
      const p = sat.p * (liquid ? 1 + share : 1 - share);
      const { rho, p: back } = stateAtTP(one, T, p);
      const stable = liquid ? rho >= sat.rhoL * (1 - 1e-10) : rho <= sat.rhoV * (1 + 1e-10);
      const residual = Math.abs(pressureAt(one, T, rho) - p) / (p + rho * stateAtTRho(one, T, rho).w ** 2);
      if (!stable || back !== p || !(residual < 1e-11)) wrong.push({ T, p, liquid, rho, residual });
    }
    expect(wrong).toEqual([]);
  });

  it('keeps cv and dp/drho positive in hot gas to 480 K, beyond the limits of the equation', () => {
    for (let T = critical.T + 5; T <= 480; T += 5) {
      for (let rho = 1; rho < 0.8 * critical.rho; rho *= 1.3) {
        const state = stateAtTRho(one, T, rho);
        expect(state.cv).toBeGreaterThan(0);
        expect(stateAtTRho(one, T, rho * 1.001).p).toBeGreaterThan(state.p);
      }
    }
  });

  it('names quantity, value and bounds when asked outside its range', () => {
    expect(() => saturationAtT(one, critical.T)).toThrow(/saturation temperature .* K is outside/);
    expect(() => saturationAtP(one, critical.p * 1.01)).toThrow(
      expect.objectContaining({ name: 'OutOfRange', quantity: 'saturation pressure', unit: 'Pa' }),
    );
    expect(() => stateAtTP(one, 1000, 1e5)).toThrow(expect.objectContaining({ quantity: 'temperature', value: 1000, max: equation.TMax }));
    expect(() => stateAtTP(one, 300, Number.NaN)).toThrow(expect.objectContaining({ quantity: 'pressure' }));
    expect(() => stateAtPH(one, 1e6, 2e6)).toThrow(expect.objectContaining({ quantity: 'specific enthalpy', value: 2e6 }));
    expect(() => stateAtPS(one, 1e6, 9e3)).toThrow(expect.objectContaining({ quantity: 'specific entropy', unit: 'J/(kg K)' }));
  });
});
