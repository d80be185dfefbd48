import { describe, expect, it } from '@jest/globals';
import { fitLinear } from './fit.js';

describe('fitLinear', () => {
  it('recovers a plane and the covariance of what is left (worked by hand: residuals +-1 in step on both outputs)', () => {
    const n = 400;
    const F = new Float64Array(n * 3);
    const Y = new Float64Array(n * 2);
    for (let r = 0; r < n; r++) {
      const x = ((r * 37) % 100) / 50 - 1;
      const y = ((r * 61) % 100) / 50 - 1;
      const noise = r % 2 === 0 ? 1 : -1;
      F.set([1, x, y], r * 3);
      Y.set([5 + 2 * x - 3 * y + noise, -1 + 0.5 * x + 2 * noise], r * 2);
    }
    const fit = fitLinear(F, 3, Y, 2);
    expect(fit.coefficients[0]).toBeCloseTo(5, 1);
    expect(fit.coefficients[1]).toBeCloseTo(2, 1);
    expect(fit.coefficients[2]).toBeCloseTo(-3, 1);
    expect(fit.covariance[0]).toBeCloseTo(1, 1);
    expect(fit.covariance[1]).toBeCloseTo(2, 1);
    expect(fit.covariance[3]).toBeCloseTo(4, 1);
  });

  it('refuses fewer samples than terms', () => {
    expect(() => fitLinear(new Float64Array(6), 3, new Float64Array(4), 2)).toThrow('cannot fit');
  });
});
