import { createHash } from 'node:crypto';
import type { RepairAction } from '#libs/contracts/index.js';

/** Raised whenever the layout of a pack changes: packs of another layout are not read, and all are made anew. */
export const PACK_LAYOUT = 1;

/** Bytes of an episode's record; their layout stands in the migration that makes them. */
const RECORD_BYTES = 37;
const DAYS = 2;
const HOW = 4;
const DISTANCE = 5;
const SHOP = 13;
const HOME = 21;
const VEHICLE = 29;
const MOST_SHOPS = 0xffff;

/**
 * Episodes column by column, as records say them: of one cell of the board, or of a part of one. Shops and repairs are named by their places in two lists, so
 * that an episode is eighteen bytes, and eight more for the kilometres that one clock alone asks for.
 */
export interface EpisodeLot {
  readonly count: number;
  /** The last eight bytes of the vehicle's identifier as two numbers; zeros without one. */
  readonly vehicleHigh: Int32Array;
  readonly vehicleLow: Int32Array;
  /** Days since 2000-01-01, and how many days later it ended. */
  readonly started: Int16Array;
  readonly days: Int16Array;
  /** Places in `shopIds`: of the repair, and where the vehicle lives. */
  readonly shop: Uint16Array;
  readonly home: Uint16Array;
  /** As in a record. */
  readonly how: Uint8Array;
  /** Place in `actions`. */
  readonly action: Uint8Array;
  /** NaN where odometers tell nothing; null where nobody asked. */
  readonly distanceKm: Float64Array | null;
  readonly shopIds: readonly string[];
  readonly actions: readonly string[];
}

/** Records of repairs of one action, one behind the other. */
export interface ActionRecords {
  readonly action: string;
  readonly records: Buffer;
}

/**
 * Records as a lot, in their order by action. `shopIds`: all shops of the organisation.
 * @throws Error where they are no whole number of records, or name a shop that is not there.
 */
export function lotOfRecords(parts: readonly ActionRecords[], shopIds: readonly string[]): EpisodeLot {
  const ordered = [...parts].sort((a, b) => (a.action < b.action ? -1 : 1));
  const bytes = ordered.reduce((sum, { records }) => sum + records.length, 0);
  const count = bytes / RECORD_BYTES;
  if (!ordered.every(({ records }) => records.length % RECORD_BYTES === 0)) {
    throw new Error(`${bytes} bytes of episodes are no whole number of ${RECORD_BYTES}`);
  }
  const sorted = [...shopIds].sort();
  const shops = new Tails(sorted.length);
  for (const id of sorted) shops.numberOf(...tailOf(id));
  if (shops.size !== sorted.length) throw new Error('two shops end by the same eight bytes');
  if (sorted.length > MOST_SHOPS) throw new Error(`more than ${MOST_SHOPS} shops`);
  const columns = columnsIn(new ArrayBuffer(count * COLUMN_BYTES), count);
  const distanceKm = new Float64Array(count);
  const used = new Uint8Array(sorted.length + 1);
  let i = 0;
  for (const [place, { records }] of ordered.entries()) {
    const view = new DataView(records.buffer, records.byteOffset, records.byteLength);
    for (let at = 0; at < records.length; at += RECORD_BYTES, i++) {
      columns.started[i] = view.getInt16(at);
      columns.days[i] = view.getInt16(at + DAYS);
      columns.how[i] = view.getUint8(at + HOW);
      distanceKm[i] = view.getFloat64(at + DISTANCE);
      columns.shop[i] = shops.numberOf(view.getInt32(at + SHOP), view.getInt32(at + SHOP + 4));
      columns.home[i] = shops.numberOf(view.getInt32(at + HOME), view.getInt32(at + HOME + 4));
      columns.vehicleHigh[i] = view.getInt32(at + VEHICLE);
      columns.vehicleLow[i] = view.getInt32(at + VEHICLE + 4);
      columns.action[i] = place;
      used[columns.shop[i]!] = 1;
      used[columns.home[i]!] = 1;
    }
  }
  if (shops.size !== sorted.length) throw new Error('an episode names a shop that is not there');
  // Only the shops that are named: one that is founded later changes no pack.
  const places = Uint16Array.from(used, (_, place) => used.subarray(0, place).reduce((sum, one) => sum + one, 0));
  for (i = 0; i < count; i++) {
    columns.shop[i] = places[columns.shop[i]!]!;
    columns.home[i] = places[columns.home[i]!]!;
  }
  return {
    count,
    ...columns,
    distanceKm,
    shopIds: sorted.filter((_, place) => used[place] === 1),
    actions: ordered.map((part) => part.action),
  };
}

/** A lot as it is stored. */
export interface Pack {
  readonly episodes: number;
  readonly columns: Buffer;
  readonly distances: Buffer;
  /** Of all the bytes: packs of equal episodes have the same. */
  readonly digest: string;
}

interface Header {
  readonly count: number;
  readonly shopIds: readonly string[];
  readonly actions: readonly string[];
}

/** Length of the header; the header as JSON, with blanks to a multiple of four bytes; then the columns. Numbers stand as this kind of machine writes them, least first. */
export function packOf(lot: EpisodeLot): Pack {
  const { count, shopIds, actions } = lot;
  const said = JSON.stringify({ count, shopIds, actions } satisfies Header);
  const header = Buffer.from(said.padEnd(said.length + ((4 - (Buffer.byteLength(said) % 4)) % 4)));
  const start = 4 + header.length;
  const whole = new ArrayBuffer(start + count * COLUMN_BYTES);
  new DataView(whole).setUint32(0, header.length, true);
  new Uint8Array(whole).set(header, 4);
  const columns = columnsIn(whole, count, start);
  for (const name of Object.keys(columns) as (keyof typeof columns)[]) columns[name].set(lot[name]);
  const kilometres = lot.distanceKm!;
  const distances = Buffer.from(kilometres.buffer, kilometres.byteOffset, kilometres.byteLength);
  const bytes = Buffer.from(whole);
  const digest = createHash('sha256').update(bytes).update(distances).digest('hex').slice(0, 32);
  return { episodes: count, columns: bytes, distances, digest };
}

/** @throws Error where the bytes are not those of a pack. */
export function lotOfPack(bytes: Buffer, distances: Buffer | null): EpisodeLot {
  const whole = alignedCopy(bytes);
  const length = new DataView(whole).getUint32(0, true);
  const { count, shopIds, actions } = JSON.parse(Buffer.from(whole, 4, length).toString()) as Header;
  const start = 4 + length;
  if (whole.byteLength !== start + count * COLUMN_BYTES) throw new Error(`a pack of ${count} episodes has ${whole.byteLength} bytes`);
  const distanceKm = distances === null ? null : new Float64Array(alignedCopy(distances));
  if (distanceKm !== null && distanceKm.length !== count) throw new Error(`a pack of ${count} episodes has ${distanceKm.length} distances`);
  return { count, ...columnsIn(whole, count, start), distanceKm, shopIds, actions };
}

/** The repairs of each action of a lot, where they lie: they stand in the order of their actions. */
export function lotsByAction(lot: EpisodeLot): { readonly action: RepairAction; readonly lot: EpisodeLot }[] {
  let from = 0;
  return lot.actions.map((action, place) => {
    let to = from;
    while (to < lot.count && lot.action[to] === place) to++;
    const part = {
      vehicleHigh: lot.vehicleHigh.subarray(from, to),
      vehicleLow: lot.vehicleLow.subarray(from, to),
      started: lot.started.subarray(from, to),
      days: lot.days.subarray(from, to),
      shop: lot.shop.subarray(from, to),
      home: lot.home.subarray(from, to),
      how: lot.how.subarray(from, to),
      action: lot.action.subarray(from, to),
      distanceKm: lot.distanceKm?.subarray(from, to) ?? null,
    };
    const { shopIds, actions } = lot;
    const own = { action: action as RepairAction, lot: { count: to - from, ...part, shopIds, actions } };
    from = to;
    return own;
  });
}

export const lotBytes = ({ count, distanceKm }: EpisodeLot): number => count * COLUMN_BYTES + (distanceKm?.byteLength ?? 0);

/** Bytes of an episode in its columns. */
const COLUMN_BYTES = 18;

/** The widest first, so that each starts where its kind must. */
function columnsIn(whole: ArrayBuffer, count: number, start = 0) {
  return {
    vehicleHigh: new Int32Array(whole, start, count),
    vehicleLow: new Int32Array(whole, start + 4 * count, count),
    started: new Int16Array(whole, start + 8 * count, count),
    days: new Int16Array(whole, start + 10 * count, count),
    shop: new Uint16Array(whole, start + 12 * count, count),
    home: new Uint16Array(whole, start + 14 * count, count),
    how: new Uint8Array(whole, start + 16 * count, count),
    action: new Uint8Array(whole, start + 17 * count, count),
  };
}

/** Small buffers share one block of memory, in which numbers need not start where their kind must. */
function alignedCopy(bytes: Buffer): ArrayBuffer {
  const copy = new ArrayBuffer(bytes.length);
  new Uint8Array(copy).set(bytes);
  return copy;
}

/** The last eight bytes of an identifier as two numbers. */
function tailOf(id: string): [number, number] {
  const hex = id.replaceAll('-', '').slice(16);
  return [Number.parseInt(hex.slice(0, 8), 16) | 0, Number.parseInt(hex.slice(8), 16) | 0];
}

/** Numbers eight-byte tails in the order in which they come: open addressing, so that no text is made of them. */
export class Tails {
  size = 0;
  private readonly mask: number;
  private readonly slots: Int32Array;
  private readonly highs: Int32Array;
  private readonly lows: Int32Array;

  /** `most`: how many there can be. One more is numbered too, so that a stranger is seen. */
  constructor(private readonly most: number) {
    const places = 2 ** Math.ceil(Math.log2(2 * (most + 2)));
    this.mask = places - 1;
    this.slots = new Int32Array(places);
    this.highs = new Int32Array(places);
    this.lows = new Int32Array(places);
  }

  numberOf(high: number, low: number): number {
    let slot = Math.imul(high ^ Math.imul(low, 0x85ebca6b), 0x9e3779b1);
    slot = (slot ^ (slot >>> 15)) & this.mask;
    for (; ; slot = (slot + 1) & this.mask) {
      const number = this.slots[slot]! - 1;
      if (number < 0) break;
      if (this.highs[slot] === high && this.lows[slot] === low) return number;
    }
    if (this.size > this.most) return this.most;
    this.highs[slot] = high;
    this.lows[slot] = low;
    this.slots[slot] = ++this.size;
    return this.size - 1;
  }
}
