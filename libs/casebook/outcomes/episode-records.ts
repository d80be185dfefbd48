import { EPISODE_ENDS, type EpisodeEnd } from '#libs/contracts/index.js';
import { type EpisodeLot, lotOfRecords, Tails } from './episode-lots.js';

const DAY_MS = 86_400_000;
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

/** Of several lots, one behind the other. */
export interface LotColumns extends EpisodeColumns {
  /** How many there are of each lot. */
  readonly ofLots: Int32Array;
}

export const endAt = (place: number): EpisodeEnd => EPISODE_ENDS[place]!;

/** What is asked of an episode besides its cell; absent: nothing. */
export interface Wanted {
  readonly action?: string | undefined;
  readonly shopId?: string | undefined;
  /** Day numbers: from the first of these on, before the second. */
  readonly since?: number | undefined;
  readonly until?: number | undefined;
  readonly endedSince?: number | undefined;
  readonly endedUntil?: number | undefined;
  /** Of a shop where the vehicle lives, and a month (0: January) in which it was repaired. */
  readonly livesAt?: ((homeShopId: string) => boolean) | undefined;
  readonly inSeason?: ((homeShopId: string, month: number) => boolean) | undefined;
  readonly end?: ((end: EpisodeEnd) => boolean) | undefined;
}

/** Records that stand one behind the other. `shopIds`: all shops of the organisation. */
export function readRecords(packed: Buffer, shopIds: readonly string[]): EpisodeColumns {
  return columnsOfLots([lotOfRecords([{ action: '', records: packed }], shopIds)], shopIds);
}

/**
 * The episodes of several lots that are wanted, shops and vehicles numbered over all of them. `shopIds`: all shops of the organisation.
 * @throws Error where one ends by a word this program does not know, or names a shop that is not there.
 */
export function columnsOfLots(lots: readonly EpisodeLot[], shopIds: readonly string[], wanted: Wanted = {}): LotColumns {
  const kept = lots.map((lot) => keptOf(lot, wanted));
  const ofLots = Int32Array.from(lots, (lot, l) => kept[l]?.length ?? lot.count);
  const count = ofLots.reduce((sum, own) => sum + own, 0);
  const started = new Int32Array(count);
  const ended = new Int32Array(count);
  const end = new Uint8Array(count);
  const linked = new Uint8Array(count);
  const elsewhere = new Uint8Array(count);
  const distanceKm = new Float64Array(count).fill(Number.NaN);
  const shop = new Int32Array(count);
  const home = new Int32Array(count);
  const vehicle = new Int32Array(count);
  const draw = new Int32Array(count);
  const vehicles = new Tails(count);
  let i = 0;
  for (const [l, lot] of lots.entries()) {
    const places = lot.shopIds.map((id) => shopIds.indexOf(id));
    if (places.includes(-1)) throw new Error('an episode names a shop that is not there');
    const own = kept[l];
    const size = ofLots[l]!;
    for (let k = 0; k < size; k++, i++) {
      const from = own ? own[k]! : k;
      started[i] = lot.started[from]! + FIRST_DAY;
      ended[i] = started[i]! + lot.days[from]!;
      const how = lot.how[from]!;
      if ((how & KIND) === 0) throw new Error('an episode ends in a way that is not known here');
      end[i] = (how & KIND) - 1;
      linked[i] = (how & LINKED) === 0 ? 0 : 1;
      elsewhere[i] = (how & ELSEWHERE) === 0 ? 0 : 1;
      if (lot.distanceKm !== null) distanceKm[i] = lot.distanceKm[from]!;
      shop[i] = places[lot.shop[from]!]!;
      home[i] = places[lot.home[from]!]!;
      const high = lot.vehicleHigh[from]!;
      const low = lot.vehicleLow[from]!;
      vehicle[i] = vehicles.numberOf(high, low);
      draw[i] = high === 0 && low === 0 ? -1 : low & 0xffffff;
    }
  }
  return { count, started, ended, end, linked, elsewhere, distanceKm, shop, home, shopIds, vehicle, vehicles: vehicles.size, draw, ofLots };
}

/** Places of the wanted episodes of a lot; null: all of them. */
function keptOf(lot: EpisodeLot, wanted: Wanted): Int32Array | null {
  const tests: ((i: number) => boolean)[] = [];
  const { started, days, shop, home, how, shopIds } = lot;
  const { since, until, endedSince, endedUntil, livesAt, inSeason } = wanted;
  if (wanted.action !== undefined) {
    const action = lot.actions.indexOf(wanted.action);
    tests.push((i) => lot.action[i] === action);
  }
  if (wanted.shopId !== undefined) {
    const place = shopIds.indexOf(wanted.shopId);
    tests.push((i) => shop[i] === place);
  }
  const day = (i: number) => started[i]! + FIRST_DAY;
  if (since !== undefined) tests.push((i) => day(i) >= since);
  if (until !== undefined) tests.push((i) => day(i) < until);
  if (endedSince !== undefined) tests.push((i) => day(i) + days[i]! >= endedSince);
  if (endedUntil !== undefined) tests.push((i) => day(i) + days[i]! < endedUntil);
  if (livesAt) {
    const lives = shopIds.map(livesAt);
    tests.push((i) => lives[home[i]!]!);
  }
  if (inSeason) {
    const months = shopIds.map((id) => Array.from({ length: 12 }, (_, month) => inSeason(id, month)));
    tests.push((i) => months[home[i]!]![new Date(day(i) * DAY_MS).getUTCMonth()]!);
  }
  if (wanted.end) {
    const ends = EPISODE_ENDS.map(wanted.end);
    tests.push((i) => ends[(how[i]! & KIND) - 1] === true);
  }
  if (tests.length === 0) return null;
  const kept = new Int32Array(lot.count);
  let size = 0;
  for (let i = 0; i < lot.count; i++) if (tests.every((test) => test(i))) kept[size++] = i;
  return kept.subarray(0, size);
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
