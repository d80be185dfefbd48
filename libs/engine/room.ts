import { DIMS } from './dims.js';
import type { Expectation } from './expectation.js';

/**
 * Means and covariances of the hypotheses of one analysis, lent out of a store that is used again. A case weighs some hundred and fifty of them, a third of a
 * megabyte: allocated anew for each case they cost more than the arithmetic, and most of the work of the garbage collector.
 */
export class Room {
  private readonly lent: Expectation[] = [];
  private taken = 0;

  /** A mean and a covariance over all dimensions that hold what they held. */
  take(): Expectation {
    let one = this.lent[this.taken];
    if (!one) {
      one = { mean: new Float64Array(DIMS), covariance: new Float64Array(DIMS * DIMS) };
      this.lent.push(one);
    }
    this.taken++;
    return one;
  }

  /** Takes back everything lent: whoever has some of it must be done with it. */
  clear(): void {
    this.taken = 0;
  }
}
