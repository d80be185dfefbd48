/**
 * A signature in two bytes a dimension, without loss: its values are held to ±12 and to three decimals where they are made. Thousandths, the lower byte first;
 * `UNREAD` where nothing was read.
 */
export const UNREAD = -32_768;
const MOST = 32_767;
export const THOUSANDTHS = 1_000;

export const codeBytes = (dimensions: number): number => 2 * dimensions;

export function signatureCode(values: readonly (number | null)[]): Buffer {
  const code = Buffer.alloc(codeBytes(values.length));
  for (const [i, value] of values.entries()) code.writeInt16LE(value === null ? UNREAD : thousandths(value), 2 * i);
  return code;
}

/** The values that a code stands for. */
export const valuesOfCode = (code: Buffer): (number | null)[] =>
  Array.from({ length: code.length / 2 }, (_, d) => {
    const value = code.readInt16LE(2 * d);
    return value === UNREAD ? null : value / THOUSANDTHS;
  });

export const thousandths = (value: number): number => Math.max(-MOST, Math.min(MOST, Math.round(value * THOUSANDTHS)));
