import type { CompressorKind, FaultCode } from '#libs/engine/index.js';
import { FREQUENCY } from './engine-frequencies.js';
import type { Fault, Hardware, Surroundings, Variant } from './engine-vehicle.js';

/** Deterministic uniform numbers (mulberry32, public domain). */
export function random(seed: number): () => number {
  let a = seed >>> 0;
  return () => {
    a = (a + 0x6d2b79f5) >>> 0;
    let t = a;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4_294_967_296;
  };
}
export type Random = () => number;
export const between = (u: Random, a: number, b: number) => a + (b - a) * u();
export const normal = (u: Random) => Math.sqrt(-2 * Math.log(Math.max(u(), 1e-12))) * Math.cos(2 * Math.PI * u());
export const pick = <T>(u: Random, xs: readonly T[]): T => xs[Math.min(Math.floor(u() * xs.length), xs.length - 1)]!;

export function drawHardware(u: Random, variant: Variant = 'none'): Hardware {
  const layout = pick(u, ['orifice-accumulator', 'valve-receiver', 'valve-integral-receiver', 'valve-integral-receiver'] as const);
  const kinds: readonly CompressorKind[] =
    layout === 'valve-integral-receiver'
      ? ['fixed-clutch', 'variable', 'variable-commanded', 'variable-commanded', 'electric']
      : ['fixed-clutch', 'fixed-clutch', 'variable'];
  const compressor = pick(u, kinds);
  const electric = compressor === 'electric';
  const wide = (mid: number, spread: number) => mid * Math.exp(spread * normal(u));
  const orifice = layout === 'orifice-accumulator';
  return {
    layout,
    compressor,
    refrigerant: u() < 0.6 ? 'R-134a' : 'R-1234yf',
    displacement: electric ? wide(34e-6, 0.1) : wide(compressor === 'fixed-clutch' ? 150e-6 : 165e-6, 0.1),
    clearance: between(u, 0.03, 0.06),
    isentropic: between(u, 0.6, 0.74),
    condenserUA: wide(600, 0.12),
    condenserAir: wide(0.56, 0.14),
    evaporatorNTU: wide(1.15, 0.12),
    evaporatorAir: wide(0.125, 0.1),
    dropCondenser: wide(0.55e5, 0.25),
    dropSuction: wide(0.16e5, 0.3),
    subcooling: layout === 'valve-integral-receiver' ? between(u, 6, 12) : orifice ? between(u, 3, 9) : between(u, 2.5, 7),
    superheat: orifice ? between(u, 0.5, 5) : between(u, 5, 10),
    reserve: orifice ? between(u, 0.18, 0.36) : between(u, 0.13, 0.28),
    setPoint: between(u, 271.5, 274.5),
    cutOut: between(u, 266.5, 270.5),
    variant,
  };
}

export function drawAir(u: Random, electric: boolean): Surroundings & { readonly outsideK: number; readonly recirculated: boolean } {
  const outsideK = between(u, 291, 313);
  const recirculated = u() < 0.65;
  return {
    outsideK,
    recirculated,
    condenserAirK: outsideK + Math.abs(normal(u)) * 2,
    evaporatorAirK: recirculated ? Math.min(outsideK, 300) + normal(u) * 2 : outsideK + normal(u),
    relativeHumidity: Math.min(Math.max(0.45 + 0.16 * normal(u), 0.12), 0.9),
    speed: electric ? between(u, 40, 100) : between(u, 16, 42),
    blower: u() < 0.7 ? 1 : between(u, 0.6, 1),
    barometerPa: 101_325 * (1 - 2.25577e-5 * (u() < 0.6 ? between(u, 0, 500) : between(u, 500, 2200))) ** 5.25588,
  };
}

export function drawFault(u: Random, hw: Hardware): Fault | null {
  const variable = hw.compressor === 'variable' || hw.compressor === 'variable-commanded';
  const fits = (code: FaultCode) => {
    if (code === 'filter-cartridge') return hw.layout === 'valve-integral-receiver';
    if (code === 'valve-restricted' || code === 'valve-stuck-open') return hw.layout !== 'orifice-accumulator';
    if (code === 'orifice-clogged' || code === 'orifice-oversize') return hw.layout === 'orifice-accumulator';
    if (code === 'displacement-stuck-low') return variable;
    if (code === 'electric-compressor-limited') return hw.compressor === 'electric';
    if (code === 'clutch-slip') return hw.compressor !== 'electric';
    return true;
  };
  const open = FREQUENCY.filter(([code]) => fits(code));
  let x = u() * open.reduce((sum, [, w]) => sum + w, 0);
  for (const [code, w] of open) {
    x -= w;
    if (x <= 0) return { code, size: code === 'undercharge' ? between(u, 0.08, 0.99) : between(u, 0.15, 1) };
  }
  return { code: 'healthy', size: 0 };
}
