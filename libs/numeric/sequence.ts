import { OutOfRange } from './errors.js';

/**
 * The first points of the R sequence in d dimensions, row by row: they spread over the unit cube far more evenly than random ones, at any count.
 *
 *   x[k][j] = frac(offset + (k + 1) / g^(j + 1)),  k = 0 .. count - 1,  g the positive root of g^(d + 1) = g + 1
 *
 * d = 1 is the golden-ratio sequence. Good up to about 10 dimensions; beyond that pairs of coordinates begin to line up.
 * offset   start, 0 to 1 (default 0.5); another one gives another, equally even set
 * source   M. Roberts, The Unreasonable Effectiveness of Quasirandom Sequences (2018).
 */
export function rSequence(count: number, d: number, offset = 0.5): Float64Array {
  if (!(Number.isInteger(d) && d >= 1 && d <= 64)) throw new OutOfRange('dimensions', d, 1, 64, '1');
  let g = 1.5;
  // g -> (1 + g)^(1/(d + 1)) contracts by a factor of 3 or more: 64 rounds reach rounding.
  for (let i = 0; i < 64; i++) g = (1 + g) ** (1 / (d + 1));
  const out = new Float64Array(count * d);
  for (let j = 0; j < d; j++) {
    const stride = g ** -(j + 1);
    for (let k = 0; k < count; k++) {
      const value = offset + (k + 1) * stride;
      out[k * d + j] = value - Math.floor(value);
    }
  }
  return out;
}
