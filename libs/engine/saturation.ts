import type { RefrigerantName } from './codes.js';

const C: Record<RefrigerantName, { Tc: number; pc: number; n: number[]; t: number[] }> = {
  'R-134a': { Tc: 374.18, pc: 4.05629e6, n: [-7.686556, 2.311791, -2.039554, -3.583758], t: [1, 1.5, 2, 4] },
  'R-1234yf': { Tc: 367.85, pc: 3.3822e6, n: [-7.4697, 2.7915, -2.1312, -2.9531], t: [1, 1.5, 2.5, 5] },
};

export function saturationPressure(name: RefrigerantName, T: number): number {
  const c = C[name];
  const Tb = Math.min(Math.max(T, 200), c.Tc);
  const th = 1 - Tb / c.Tc;
  let s = 0;
  for (let i = 0; i < 4; i++) s += c.n[i]! * th ** c.t[i]!;
  return c.pc * Math.exp((c.Tc / Tb) * s);
}
export function saturationTemperature(name: RefrigerantName, p: number): number {
  const c = C[name];
  if (p >= c.pc) return c.Tc;
  let T = Math.min(Math.max(1 / (1 / c.Tc - Math.log(p / c.pc) / (7.2 * c.Tc)), 200), c.Tc);
  for (let i = 0; i < 12; i++) {
    const step = (Math.log(saturationPressure(name, T) / p) * T * T) / (7.2 * c.Tc);
    T = Math.min(Math.max(T - step, 200), c.Tc);
    if (Math.abs(step) < 1e-7) break;
  }
  return T;
}
export function saturationSlope(name: RefrigerantName, T: number): number {
  return (saturationPressure(name, T + 0.05) - saturationPressure(name, T - 0.05)) / 0.1;
}
