import { EPISODE_ENDS, type EpisodeEnd } from '#libs/contracts/index.js';

/** Bytes of an episode's record; their layout stands in the migration that makes them. */
const RECORD_BYTES = 37;
const DAYS = 2;
const HOW = 4;
const DISTANCE = 5;
const SHOP = 13;
const HOME = 21;
const VEHICLE = 29;
/** 2000-01-01 as a day number. */
const FIRST_DAY = 10_957;
const [KIND, LINKED, ELSEWHERE] = [0b111, 0b11000, 0b100000];

/** Episodes column by column: what `EpisodeSpan` says of one. Shops and vehicles are numbered in the order in which they come. */
export interface EpisodeColumns {
  readonly count: number;
  /** Day numbers since `DAY_ZERO`. */
  readonly started: Int32Array;
  readonly ended: Int32Array;
  /** Place in `EPISODE_ENDS`. */
  readonly end: Uint8Array;
  /** 1: the vehicle is known by its VIN or plate. */
  readonly linked: Uint8Array;
  /** 1: what ended it was seen at another shop. */
  readonly elsewhere: Uint8Array;
  /** NaN where odometers tell nothing. */
  readonly distanceKm: Float64Array;
  /** Places in `shopIds`. */
  readonly shop: Int32Array;
  readonly home: Int32Array;
  readonly shopIds: readonly string[];
  /** Number of the vehicle; repairs without one share a number. */
  readonly vehicle: Int32Array;
  readonly vehicles: number;
  /** The last three bytes of the vehicle's identifier, −1 without one: a draw that is the same in every question. */
  readonly draw: Int32Array;
}

export const endAt = (place: number): EpisodeEnd => EPISODE_ENDS[place]!;

/**
 * Reads records that stand one behind the other. `shopIds`: all shops of the organisation.
 * @throws Error where they are no whole number of records, one ends by a word this program does not know, or names a shop that is not there.
 */
export function readRecords(packed: Buffer, shopIds: readonly string[]): EpisodeColumns {
  const count = packed.length / RECORD_BYTES;
  if (!Number.isInteger(count)) throw new Error(`${packed.length} bytes of episodes are no whole number of ${RECORD_BYTES}`);
  const view = new DataView(packed.buffer, packed.byteOffset, packed.byteLength);
  const started = new Int32Array(count);
  const ended = new Int32Array(count);
  const end = new Uint8Array(count);
  const linked = new Uint8Array(count);
  const elsewhere = new Uint8Array(count);
  const distanceKm = new Float64Array(count);
  const shop = new Int32Array(count);
  const home = new Int32Array(count);
  const vehicle = new Int32Array(count);
  const draw = new Int32Array(count);
  const shops = new Tails(shopIds.length);
  for (const id of shopIds) shops.numberOf(...tailOf(id));
  if (shops.size !== shopIds.length) throw new Error('two shops end by the same eight bytes');
  const vehicles = new Tails(count);
  for (let i = 0, at = 0; i < count; i++, at += RECORD_BYTES) {
    started[i] = view.getInt16(at) + FIRST_DAY;
    ended[i] = started[i]! + view.getInt16(at + DAYS);
    const how = view.getUint8(at + HOW);
    if ((how & KIND) === 0) throw new Error('an episode ends in a way that is not known here');
    end[i] = (how & KIND) - 1;
    linked[i] = (how & LINKED) === 0 ? 0 : 1;
    elsewhere[i] = (how & ELSEWHERE) === 0 ? 0 : 1;
    distanceKm[i] = view.getFloat64(at + DISTANCE);
    shop[i] = shops.numberOf(view.getInt32(at + SHOP), view.getInt32(at + SHOP + 4));
    home[i] = shops.numberOf(view.getInt32(at + HOME), view.getInt32(at + HOME + 4));
    const [high, low] = [view.getInt32(at + VEHICLE), view.getInt32(at + VEHICLE + 4)];
    vehicle[i] = vehicles.numberOf(high, low);
    draw[i] = high === 0 && low === 0 ? -1 : low & 0xffffff;
  }
  if (shops.size !== shopIds.length) throw new Error('an episode names a shop that is not there');
  return { count, started, ended, end, linked, elsewhere, distanceKm, shop, home, shopIds, vehicle, vehicles: vehicles.size, draw };
}

/** The episodes that `keep` says, shops and vehicles numbered as before. */
export function chosen(columns: EpisodeColumns, keep: (i: number) => boolean): EpisodeColumns {
  const kept = Int32Array.from({ length: columns.count }, (_, i) => i).filter(keep);
  const ints = (column: Int32Array) => Int32Array.from(kept, (i) => column[i]!);
  const bytes = (column: Uint8Array) => Uint8Array.from(kept, (i) => column[i]!);
  const vehicle = ints(columns.vehicle);
  return {
    count: kept.length,
    started: ints(columns.started),
    ended: ints(columns.ended),
    end: bytes(columns.end),
    linked: bytes(columns.linked),
    elsewhere: bytes(columns.elsewhere),
    distanceKm: Float64Array.from(kept, (i) => columns.distanceKm[i]!),
    shop: ints(columns.shop),
    home: ints(columns.home),
    shopIds: columns.shopIds,
    vehicle,
    vehicles: new Set(vehicle).size,
    draw: ints(columns.draw),
  };
}

/** How many different shops repaired. */
export function shopCount({ shop, shopIds }: EpisodeColumns): number {
  const seen = new Uint8Array(shopIds.length);
  for (const place of shop) seen[place] = 1;
  return seen.reduce((sum, one) => sum + one, 0);
}

/** The last eight bytes of an identifier as two numbers. */
function tailOf(id: string): [number, number] {
  const hex = id.replaceAll('-', '').slice(16);
  return [Number.parseInt(hex.slice(0, 8), 16) | 0, Number.parseInt(hex.slice(8), 16) | 0];
}

/** Numbers eight-byte tails in the order in which they come: open addressing, so that no text is made of them. */
class Tails {
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
