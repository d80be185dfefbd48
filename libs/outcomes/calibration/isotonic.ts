/**
 * Isotonic means by pooling adjacent violators: the non-decreasing sequence nearest to sum/weight in weighted least squares.
 *
 * weight w_i >= 0 and sum s_i of the i-th point, points in the order that is to be kept. A run without weight takes 0.
 * Source: Barlow, Bartholomew, Bremner and Brunk (1972), Statistical Inference under Order Restrictions, ch. 1.
 */
export function isotonicMeans(weight: ArrayLike<number>, sum: ArrayLike<number>): Float64Array {
  const n = weight.length;
  const w = new Float64Array(n);
  const s = new Float64Array(n);
  const end = new Int32Array(n);
  let top = -1;
  for (let i = 0; i < n; i++) {
    top++;
    w[top] = weight[i]!;
    s[top] = sum[i]!;
    end[top] = i + 1;
    while (top > 0 && s[top - 1]! * w[top]! >= s[top]! * w[top - 1]!) {
      w[top - 1]! += w[top]!;
      s[top - 1]! += s[top]!;
      end[top - 1] = i + 1;
      top--;
    }
  }
  const out = new Float64Array(n);
  for (let block = 0, from = 0; block <= top; from = end[block]!, block++) {
    out.fill(w[block]! > 0 ? s[block]! / w[block]! : 0, from, end[block]);
  }
  return out;
}
