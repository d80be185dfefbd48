import { codeBytes, signatureCode, thousandths, UNREAD } from './signature-code.js';

/** Rows of a block: some megabyte, so that nothing large is ever copied. */
const BLOCK_ROWS = 16_384;
const ID_BYTES = 16;
/** Bits of a mask. */
const MOST_DIMENSIONS = 32;
/** Beyond eight standard deviations a difference is a difference, however large (`likeness.ts`), in thousandths. */
const FARTHEST = 8_000;
/** A score as the database's values give it differs from one of whole thousandths by its rounding alone. */
const ROUNDING = 1e-9;

/** Bytes of a case as it is read: its identifier, then its code. */
export const rowBytesOf = (dimensions: number): number => ID_BYTES + codeBytes(dimensions);

interface Block {
  count: number;
  readonly ids: Uint8Array;
  /** Dimension behind dimension: most cases are given up after the first few, and the others need not come into the processor. */
  readonly values: Int16Array;
  /** Which dimensions were read, a bit each. */
  readonly masks: Uint32Array;
}

/** The nearest cases by their signatures, and how many there were to choose from. */
export interface Nearest {
  readonly count: number;
  /** The nearest first; of those that are equally near the smaller identifier first. */
  readonly ids: readonly string[];
}

/** The signatures of all cases of a layout, in memory, row behind row: three hundred thousand are looked through in some milliseconds. */
export class SignatureShelf {
  private readonly blocks: Block[] = [];
  /** Blocks that were read in the order of their identifiers, newest first; rows that came later are found by `later`. */
  private ordered = 0;
  private readonly later = new Map<string, { readonly block: Block; readonly row: number }>();

  constructor(private readonly dimensions: number) {
    if (dimensions > MOST_DIMENSIONS) throw new Error(`signatures of ${dimensions} dimensions, at most ${MOST_DIMENSIONS}`);
  }

  get count(): number {
    return this.blocks.reduce((sum, { count }) => sum + count, 0);
  }

  get bytes(): number {
    return this.blocks.length * BLOCK_ROWS * (rowBytesOf(this.dimensions) + 4);
  }

  /** Identifiers and codes one behind the other, newest identifiers first, older than all that are here. */
  append(packed: Buffer): void {
    const size = rowBytesOf(this.dimensions);
    const rows = packed.length / size;
    if (!Number.isInteger(rows)) throw new Error(`${packed.length} bytes of codes are no whole number of ${size}`);
    if (this.later.size > 0) throw new Error('rows came one by one before all had been read');
    const bytes = Uint8Array.from(packed);
    const numbers = new Int16Array(bytes.buffer);
    for (let r = 0; r < rows; r++) {
      const block = this.free();
      const row = block.count++;
      for (let b = 0; b < ID_BYTES; b++) block.ids[row * ID_BYTES + b] = bytes[r * size + b]!;
      this.write(block, row, numbers, (r * size + ID_BYTES) / 2);
    }
    this.ordered = this.blocks.length;
  }

  /** A case that was stored or judged again after the first reading. */
  put(caseId: string, values: readonly (number | null)[]): void {
    const code = new Int16Array(Uint8Array.from(signatureCode(values)).buffer);
    const known = this.later.get(caseId) ?? this.find(caseId);
    if (known) {
      this.write(known.block, known.row, code, 0);
      return;
    }
    // A block of its own kind: within the others the order is relied on.
    const block = this.blocks.length > this.ordered ? this.free() : this.begun();
    const row = block.count++;
    block.ids.set(Buffer.from(caseId.replaceAll('-', ''), 'hex'), row * ID_BYTES);
    this.write(block, row, code, 0);
    this.later.set(caseId, { block, row });
  }

  /**
   * The `most` nearest to asked values by the distance of `likeness.ts`, and whatever is as near as the last of them: exactly those that a comparison with
   * every case finds. A case is given up as soon as its sum passes what the farthest of the nearest so far allows; the asked values that stand out most are
   * compared first, for that is seen there soonest.
   */
  nearest(asked: readonly (number | null)[], minimumShared: number, most: number): Nearest {
    const read = asked.flatMap((value, d) => (value === null ? [] : [{ d, value: thousandths(value) }]));
    read.sort((a, b) => Math.abs(b.value) - Math.abs(a.value));
    const starts = Int32Array.from(read, ({ d }) => d * BLOCK_ROWS);
    const own = Int32Array.from(read, ({ value }) => value);
    const askedMask = read.reduce((mask, { d }) => mask | (1 << d), 0);
    const glanced = Array.from({ length: GLANCED }, (_, k) => ({ start: starts[k] ?? 0, least: leastSquares(own[k] ?? null) }));
    const best = new Smallest(most);
    const found: { readonly score: number; readonly block: Block; readonly row: number }[] = [];
    const bounds = new Float64Array(MOST_DIMENSIONS + 1);
    const rows = new Int32Array(BLOCK_ROWS);
    for (const block of this.blocks) {
      // sum/shared · asked/shared orders as its square root does.
      for (let shared = 0; shared < bounds.length; shared++) {
        bounds[shared] = shared < Math.max(1, minimumShared) ? -1 : best.limit * shared * shared;
      }
      const left = glance(block, askedMask, glanced, bounds, rows);
      for (let r = 0; r < left; r++) {
        const row = rows[r]!;
        const shared = bitsOf(block.masks[row]! & askedMask);
        const bound = best.limit * shared * shared;
        const sum = sumOfSquares(block.values, row, starts, own, bound);
        if (sum > bound) continue;
        const score = sum / (shared * shared);
        best.add(score);
        found.push({ score, block, row });
      }
    }
    const limit = best.limit;
    const near = found.filter(({ score }) => score <= limit).map(({ score, block, row }) => ({ score, id: uuidAt(block.ids, row) }));
    near.sort((a, b) => a.score - b.score || (a.id < b.id ? -1 : 1));
    return { count: this.count, ids: near.map(({ id }) => id) };
  }

  private free(): Block {
    const last = this.blocks.at(-1);
    return last && last.count < BLOCK_ROWS ? last : this.begun();
  }

  private begun(): Block {
    const block = {
      count: 0,
      ids: new Uint8Array(BLOCK_ROWS * ID_BYTES),
      values: new Int16Array(BLOCK_ROWS * this.dimensions),
      masks: new Uint32Array(BLOCK_ROWS),
    };
    this.blocks.push(block);
    return block;
  }

  private write({ values, masks }: Block, row: number, code: Int16Array, from: number): void {
    let mask = 0;
    for (let d = 0; d < this.dimensions; d++) {
      const value = code[from + d]!;
      values[d * BLOCK_ROWS + row] = value;
      if (value !== UNREAD) mask |= 1 << d;
    }
    masks[row] = mask;
  }

  /** A row of the first reading, by halving. */
  private find(caseId: string): { readonly block: Block; readonly row: number } | null {
    const id = Buffer.from(caseId.replaceAll('-', ''), 'hex');
    for (const block of this.blocks.slice(0, this.ordered)) {
      if (Buffer.compare(id, idAt(block, block.count - 1)) < 0) continue;
      let [low, high] = [0, block.count];
      while (low < high) {
        const middle = (low + high) >> 1;
        if (Buffer.compare(idAt(block, middle), id) > 0) low = middle + 1;
        else high = middle;
      }
      return low < block.count && Buffer.compare(idAt(block, low), id) === 0 ? { block, row: low } : null;
    }
    return null;
  }
}

/** So many of the asked values are looked at together, without a branch for each: those of most cases that are far away say so by themselves. */
const GLANCED = 3;
/** Values are told apart by steps of 64 thousandths at that. */
const STEP_BITS = 6;
const HALF_STEPS = 0x8000 >> STEP_BITS;

interface Glanced {
  /** Where the dimension begins in a block. */
  readonly start: number;
  readonly least: Int32Array;
}

/** What the square of the difference to an asked value is at least, by the step of the other; the step of what is unread first, all of them zero for no value. */
function leastSquares(asked: number | null): Int32Array {
  const least = new Int32Array(2 * HALF_STEPS);
  if (asked !== null) least[0] = Math.min(FARTHEST, Math.abs(asked)) ** 2;
  for (let step = 1; step < least.length && asked !== null; step++) {
    const low = (step - HALF_STEPS) << STEP_BITS;
    const high = low + (1 << STEP_BITS) - 1;
    const difference = Math.min(FARTHEST, asked < low ? low - asked : asked > high ? asked - high : 0);
    least[step] = difference * difference;
  }
  return least;
}

/**
 * The rows of a block whose first values leave them within the bound for as many dimensions as they share. Loops over nothing but numbers, in functions of their
 * own: they stay compiled whatever else the process does.
 * @returns how many there are.
 */
function glance(
  { values, masks, count }: Block,
  askedMask: number,
  glanced: readonly Glanced[],
  bounds: Float64Array,
  rows: Int32Array,
): number {
  const [{ start: startA, least: a }, { start: startB, least: b }, { start: startC, least: c }] = glanced as [Glanced, Glanced, Glanced];
  let left = 0;
  for (let row = 0; row < count; row++) {
    const sum =
      a[(values[startA + row]! >> STEP_BITS) + HALF_STEPS]! +
      b[(values[startB + row]! >> STEP_BITS) + HALF_STEPS]! +
      c[(values[startC + row]! >> STEP_BITS) + HALF_STEPS]!;
    rows[left] = row;
    left += sum <= bounds[bitsOf(masks[row]! & askedMask)]! ? 1 : 0;
  }
  return left;
}

/** Given up as soon as it passes the bound. */
function sumOfSquares(values: Int16Array, row: number, starts: Int32Array, own: Int32Array, bound: number): number {
  let sum = 0;
  for (let k = 0; k < starts.length && sum <= bound; k++) {
    const value = values[starts[k]! + row]!;
    // What was not read counts as sound (`likeness.ts`).
    const difference = Math.max(-FARTHEST, Math.min(FARTHEST, own[k]! - (value === UNREAD ? 0 : value)));
    sum += difference * difference;
  }
  return sum;
}

/** The smallest numbers so far; `limit` is the largest of them, with room for its rounding, once there are so many. */
class Smallest {
  limit = Number.POSITIVE_INFINITY;
  private readonly kept: number[] = [];

  constructor(private readonly most: number) {}

  add(score: number): void {
    let at = this.kept.length;
    while (at > 0 && this.kept[at - 1]! > score) at--;
    if (at >= this.most) return;
    this.kept.splice(at, 0, score);
    if (this.kept.length > this.most) this.kept.pop();
    if (this.kept.length === this.most) this.limit = this.kept[this.most - 1]! * (1 + ROUNDING);
  }
}

/** How many bits of a number are set (Warren, Hacker's Delight, section 5-1). */
function bitsOf(mask: number): number {
  let bits = mask - ((mask >>> 1) & 0x55555555);
  bits = (bits & 0x33333333) + ((bits >>> 2) & 0x33333333);
  return Math.imul((bits + (bits >>> 4)) & 0x0f0f0f0f, 0x01010101) >>> 24;
}

const idAt = ({ ids }: Block, row: number): Uint8Array => ids.subarray(row * ID_BYTES, (row + 1) * ID_BYTES);

function uuidAt(ids: Uint8Array, row: number): string {
  const hex = Buffer.from(ids.buffer, row * ID_BYTES, ID_BYTES).toString('hex');
  return `${hex.slice(0, 8)}-${hex.slice(8, 12)}-${hex.slice(12, 16)}-${hex.slice(16, 20)}-${hex.slice(20)}`;
}
