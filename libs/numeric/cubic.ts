import { BadSample } from './errors.js';

/**
 * Slopes of the cubic spline through equally spaced values, per cell (as if the spacing were 1), with not-a-knot ends: third derivative continuous
 * across the second and the last but one node. Reproduces cubics exactly; error O(h^4) for smooth data.
 *
 *   m[i-1] + 4 m[i] + m[i+1] = 3 (f[i+1] - f[i-1]);   m[0] + 2 m[1] = (-5 f[0] + 4 f[1] + f[2])/2, and mirrored at the other end
 *
 * values   length n >= 4 (BadSample below, or when one is not finite)
 * source   C. de Boor, A Practical Guide to Splines (1978), ch. IV.
 */
export function splineSlopes(values: ArrayLike<number>): Float64Array {
  const n = values.length;
  if (n < 4) throw new BadSample(`a not-a-knot spline needs 4 values, got ${n}`);
  for (let i = 0; i < n; i++) if (!Number.isFinite(values[i]!)) throw new BadSample(`spline value ${i} is not finite`);
  const f = (i: number): number => values[i]!;
  const diagonal = new Float64Array(n).fill(4);
  const upper = new Float64Array(n).fill(1);
  const m = new Float64Array(n);
  diagonal[0] = 1;
  upper[0] = 2;
  m[0] = (-5 * f(0) + 4 * f(1) + f(2)) / 2;
  for (let i = 1; i < n - 1; i++) m[i] = 3 * (f(i + 1) - f(i - 1));
  m[n - 1] = (5 * f(n - 1) - 4 * f(n - 2) - f(n - 3)) / 2;
  // Thomas elimination; the last row is 2 m[n-2] + m[n-1].
  for (let i = 1; i < n; i++) {
    const lower = i === n - 1 ? 2 : 1;
    const factor = lower / diagonal[i - 1]!;
    diagonal[i] = (i === n - 1 ? 1 : 4) - factor * upper[i - 1]!;
    m[i] = m[i]! - factor * m[i - 1]!;
  }
  m[n - 1] = m[n - 1]! / diagonal[n - 1]!;
  for (let i = n - 2; i >= 0; i--) m[i] = (m[i]! - upper[i]! * m[i + 1]!) / diagonal[i]!;
  return m;
}

/** Power coefficients c0 + c1 v + c2 v^2 + c3 v^3 of the Hermite cubic on [0, 1], written to out[at .. at + 3]. */
export function hermiteCubic(f0: number, f1: number, m0: number, m1: number, out: Float64Array, at: number): void {
  out[at] = f0;
  out[at + 1] = m0;
  out[at + 2] = 3 * (f1 - f0) - 2 * m0 - m1;
  out[at + 3] = 2 * (f0 - f1) + m0 + m1;
}

/**
 * Bicubic spline through a grid, as power coefficients of every cell.
 *
 * values   (nx + 1) * (ny + 1) numbers, row by row: value at node (i, j) is values[i * (ny + 1) + j]
 * returns  nx * ny * 16 numbers: cell (i, j) starts at (i * ny + j) * 16 and holds c[4 a + b] of u^a v^b, u and v in [0, 1] inside the cell
 *
 * Continuous with first and second derivatives; exact for cubics in each variable; error O(h^4). nx, ny >= 3.
 */
export function bicubicPatches(values: Float64Array, nx: number, ny: number): Float64Array {
  const rows = nx + 1;
  const columns = ny + 1;
  const along = (source: Float64Array, start: number, stride: number, count: number): Float64Array =>
    splineSlopes(Float64Array.from({ length: count }, (_, k) => source[start + k * stride]!));
  const fx = new Float64Array(values.length);
  const fy = new Float64Array(values.length);
  const fxy = new Float64Array(values.length);
  for (let i = 0; i < rows; i++) fy.set(along(values, i * columns, 1, columns), i * columns);
  for (let j = 0; j < columns; j++) {
    const slope = along(values, j, columns, rows);
    const twist = along(fy, j, columns, rows);
    for (let i = 0; i < rows; i++) {
      fx[i * columns + j] = slope[i]!;
      fxy[i * columns + j] = twist[i]!;
    }
  }
  const patches = new Float64Array(nx * ny * 16);
  const row = new Float64Array(16);
  const column = new Float64Array(4);
  for (let i = 0; i < nx; i++) {
    for (let j = 0; j < ny; j++) {
      const a = i * columns + j;
      const b = a + columns;
      // Cubics in v of the value and the x slope at both ends in u, then cubics in u of their coefficients.
      hermiteCubic(values[a]!, values[a + 1]!, fy[a]!, fy[a + 1]!, row, 0);
      hermiteCubic(values[b]!, values[b + 1]!, fy[b]!, fy[b + 1]!, row, 4);
      hermiteCubic(fx[a]!, fx[a + 1]!, fxy[a]!, fxy[a + 1]!, row, 8);
      hermiteCubic(fx[b]!, fx[b + 1]!, fxy[b]!, fxy[b + 1]!, row, 12);
      const at = (i * ny + j) * 16;
      for (let k = 0; k < 4; k++) {
        hermiteCubic(row[k]!, row[4 + k]!, row[8 + k]!, row[12 + k]!, column, 0);
        for (let l = 0; l < 4; l++) patches[at + 4 * l + k] = column[l]!;
      }
    }
  }
  return patches;
}

/** Value of the bicubic patch that starts at `at`, at (u, v) in its cell. */
export function bicubicAt(patches: Float64Array, at: number, u: number, v: number): number {
  const r3 = ((patches[at + 15]! * v + patches[at + 14]!) * v + patches[at + 13]!) * v + patches[at + 12]!;
  const r2 = ((patches[at + 11]! * v + patches[at + 10]!) * v + patches[at + 9]!) * v + patches[at + 8]!;
  const r1 = ((patches[at + 7]! * v + patches[at + 6]!) * v + patches[at + 5]!) * v + patches[at + 4]!;
  const r0 = ((patches[at + 3]! * v + patches[at + 2]!) * v + patches[at + 1]!) * v + patches[at]!;
  return ((r3 * u + r2) * u + r1) * u + r0;
}
