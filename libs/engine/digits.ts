/**
 * Digits an answer is given to: far beyond what it is worth, and short of the sixteen a double has, which are most of what an answer weighs when it is stored
 * and sent.
 */
export const toMillionths = (x: number): number => Math.round(x * 1e6) / 1e6;

/** A quantity of the circuit in its own unit: whole pascals, a ten-thousandth of a kelvin or of one. */
export const inDigitsOf = (unit: string | null, x: number): number => (unit === 'Pa' ? Math.round(x) : Math.round(x * 1e4) / 1e4);
