/**
 * A signature in half a byte a dimension: enough to find the few hundred cases worth an exact look among a hundred thousand.
 *
 * Level 0: not read. Levels 1 to 15: steps of 0.8 standard deviations from −5.6 to 5.6; what lies beyond is held there. Two dimensions a byte, the first one in
 * the lower half.
 */
const STEP = 0.8;
const MIDDLE = 8;

export function signatureCode(values: readonly (number | null)[]): Buffer {
  const code = Buffer.alloc(Math.ceil(values.length / 2));
  for (const [i, value] of values.entries()) {
    if (value === null) continue;
    const level = Math.max(1, Math.min(15, Math.round(value / STEP) + MIDDLE));
    code[i >> 1]! |= i % 2 === 0 ? level : level << 4;
  }
  return code;
}

/** Bytes of a case in what the search reads: its identifier, then its code. */
const ID_BYTES = 16;

export interface CodedCandidates {
  readonly count: number;
  /** Identifiers of the nearest by their codes, and of those as near as the last of them. */
  readonly nearest: readonly string[];
}

/**
 * The cases nearest to asked values by their codes: the distance of `likeness.ts` with the other side's values read off its levels. Which dimensions are shared
 * is exact; cases that share fewer than `minimumShared` are left out. `lots`: identifiers and codes, one behind the other.
 */
export function nearestByCode(
  lots: readonly Buffer[],
  asked: readonly (number | null)[],
  minimumShared: number,
  most: number,
): CodedCandidates {
  const bytes = Math.ceil(asked.length / 2);
  const size = ID_BYTES + bytes;
  const { squares, shares } = tablesOf(asked, bytes);
  const scored = lots.map((lot) => {
    const count = lot.length / size;
    if (!Number.isInteger(count)) throw new Error(`${lot.length} bytes of codes are no whole number of ${size}`);
    const scores = new Float32Array(count);
    for (let c = 0; c < count; c++) {
      let sum = 0;
      let shared = 0;
      for (let b = 0, at = c * size + ID_BYTES; b < bytes; b++) {
        const entry = (b << 8) | lot[at + b]!;
        sum += squares[entry]!;
        shared += shares[entry]!;
      }
      // sum/shared · asked/shared orders as its square root does.
      scores[c] = shared < minimumShared || shared === 0 ? Number.POSITIVE_INFINITY : sum / (shared * shared);
    }
    return scores;
  });
  const limit = smallest(scored, most);
  const nearest: { readonly score: number; readonly id: string }[] = [];
  for (const [l, scores] of scored.entries()) {
    for (let c = 0; c < scores.length; c++) {
      if (scores[c]! <= limit) nearest.push({ score: scores[c]!, id: uuidAt(lots[l]!, c * size) });
    }
  }
  nearest.sort((a, b) => a.score - b.score);
  const last = nearest[most - 1]?.score ?? Number.POSITIVE_INFINITY;
  return {
    count: scored.reduce((sum, { length }) => sum + length, 0),
    nearest: nearest.filter(({ score }) => score <= last).map(({ id }) => id),
  };
}

/** A score that the `most` smallest finite ones do not pass, and few others: counted by the upper half of their bits, which order as the numbers do. */
function smallest(lots: readonly Float32Array[], most: number): number {
  const counts = new Int32Array(1 << 16);
  for (const scores of lots) {
    const bits = new Uint16Array(scores.buffer);
    for (let c = 0; c < scores.length; c++) counts[bits[2 * c + UPPER]!]! += 1;
  }
  let seen = 0;
  for (let bin = 0; bin < INFINITE; bin++) {
    seen += counts[bin]!;
    if (seen >= most) return new Float32Array(new Uint32Array([(bin << 16) | 0xffff]).buffer)[0]!;
  }
  return Number.MAX_VALUE;
}
/** Place of a number's upper half, by the order of this machine's bytes; and the upper half of infinity. */
const UPPER = new Uint8Array(new Uint16Array([1]).buffer)[0]!;
const INFINITE = 0x7f80;

/** For every byte of a code and every value of it: the sum of squares of its two dimensions, and how many of them are shared. */
function tablesOf(asked: readonly (number | null)[], bytes: number): { readonly squares: Float32Array; readonly shares: Uint8Array } {
  const squares = new Float32Array(bytes << 8);
  const shares = new Uint8Array(bytes << 8);
  for (let b = 0; b < bytes; b++) {
    for (let byte = 0; byte < 256; byte++) {
      for (const [value, level] of [
        [asked[2 * b] ?? null, byte & 15],
        [asked[2 * b + 1] ?? null, byte >> 4],
      ] as const) {
        if (value === null || level === 0) continue;
        squares[(b << 8) | byte]! += Math.min(64, (value - (level - MIDDLE) * STEP) ** 2) / 2;
        shares[(b << 8) | byte]! += 1;
      }
    }
  }
  return { squares, shares };
}

function uuidAt(packed: Buffer, at: number): string {
  const hex = packed.toString('hex', at, at + ID_BYTES);
  return `${hex.slice(0, 8)}-${hex.slice(8, 12)}-${hex.slice(12, 16)}-${hex.slice(16, 20)}-${hex.slice(20)}`;
}
