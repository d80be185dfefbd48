import { describe, expect, it } from '@jest/globals';
import { logDensity, logDensity1, precision } from './gaussian.js';

describe('robust density', () => {
  it('inverts a worked 2 x 2 example: [[4,2],[2,3]] has determinant 8 and inverse [[3,-2],[-2,4]]/8', () => {
    const p = precision(Float64Array.from([4, 2, 2, 3]), 2);
    expect(p.logDet).toBeCloseTo(Math.log(8), 12);
    [3 / 8, -2 / 8, -2 / 8, 4 / 8].forEach((x, i) => {
      expect(p.inverse[i]).toBeCloseTo(x, 12);
    });
  });

  it('agrees with the one-dimensional form and integrates to one', () => {
    const p = precision(Float64Array.from([0.25]), 1);
    const broad = 20;
    let mass = 0;
    const step = 0.01;
    for (let x = -broad / 2; x < broad / 2; x += step) mass += step * Math.exp(logDensity1(x, 0.5, broad));
    expect(mass).toBeGreaterThan(0.995);
    expect(mass).toBeLessThan(1.005);
    // With one reading the reduced density is empty (log 1), so both forms are the same.
    expect(logDensity(Float64Array.from([0.7]), p, Float64Array.from([-Math.log(broad)]))).toBeCloseTo(logDensity1(0.7, 0.5, broad), 10);
  });

  it('does not let one wild reading in ten outvote the other nine', () => {
    const d = 10;
    const identity = new Float64Array(d * d);
    for (let i = 0; i < d; i++) identity[i * d + i] = 1;
    const p = precision(identity, d);
    const broad = new Float64Array(d).fill(-Math.log(60));
    // Nine readings fit A (residual 0) and miss B by 1.5 sigma each; the tenth is 25 sigma off for A and fits B.
    const a = new Float64Array(d);
    a[9] = 25;
    const b = new Float64Array(d).fill(1.5);
    b[9] = 0;
    expect(logDensity(a, p, broad)).toBeGreaterThan(logDensity(b, p, broad));
  });
});
