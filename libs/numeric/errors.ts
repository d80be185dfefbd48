/** A quantity outside the range in which an equation, table or correlation holds. */
export class OutOfRange extends Error {
  constructor(
    readonly quantity: string,
    readonly value: number,
    readonly min: number,
    readonly max: number,
    readonly unit: string,
  ) {
    super(`${quantity} ${value} ${unit} is outside ${min} to ${max} ${unit}`);
    this.name = 'OutOfRange';
  }
}

/** A solver that gave up. */
export class NoConvergence extends Error {
  constructor(
    readonly method: string,
    readonly iterations: number,
    readonly residual: number,
  ) {
    super(`${method} did not converge in ${iterations} iterations (residual ${residual})`);
    this.name = 'NoConvergence';
  }
}

/** Data a method cannot work on: empty, not finite, or contradicting itself. */
export class BadSample extends Error {
  constructor(readonly reason: string) {
    super(reason);
    this.name = 'BadSample';
  }
}
