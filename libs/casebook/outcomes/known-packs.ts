import type { EpisodeGroup } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import type { BoardCell } from './board-roll.queries.js';
import { dayNumber } from './clocks.js';
import { type EpisodeLot, lotBytes, lotOfPack, lotOfRecords, lotsByAction } from './episode-lots.js';
import { type AskedCells, isPacked, packedEpisodes } from './episode-packs.queries.js';
import { columnsOfLots, type EpisodeColumns, type LotColumns, type Wanted } from './episode-records.js';
import type { GroupPlaces } from './groups.js';
import { type ApartField, type ApartKeys, apartRecords, boardPlatforms, episodesOf, isBeyondEpisode } from './outcomes.queries.js';
import { isReturn } from './return-rates.js';

/** Packs of all organisations together: those that were asked for longest ago are forgotten first. */
const MOST_BYTES = 192 * 1024 * 1024;

interface Known {
  readonly cell: BoardCell;
  readonly digest: string;
  readonly lot: EpisodeLot;
}

/** A lot of one cell, or of repairs without a platform. */
interface CellLot extends Omit<BoardCell, 'platformId'> {
  readonly platformId: string | null;
  readonly lot: EpisodeLot;
}

export interface ApartEpisodes {
  readonly lots: readonly ApartKeys[];
  /** Of the lots in their order. */
  readonly episodes: LotColumns;
  readonly unpacked: number;
}

/** Of packs and of single repairs, for the caller to judge whether a fold is due. */
export interface GroupEpisodes {
  readonly episodes: EpisodeColumns;
  /** Repairs that were read one by one for want of a pack. */
  readonly unpacked: number;
}

/**
 * Episodes of a group, from packs where they hold all that is asked. A pack that was read is kept in memory under its digest, and in every question the
 * database says which digests hold now: what another process wrote a moment ago counts, and bytes that are here already do not come again.
 */
export class KnownPacks {
  private readonly known = new Map<string, Map<string, Known>>();
  private bytes = 0;

  async episodesOf(
    tx: Tx,
    orgId: string,
    group: EpisodeGroup,
    places: GroupPlaces,
    shopIds: readonly string[],
    withDistances: boolean,
  ): Promise<GroupEpisodes> {
    if (!isInPacks(group) || !(await isPacked(tx, orgId))) {
      const episodes = await episodesOf(tx, orgId, group, places, shopIds);
      return { episodes, unpacked: isInPacks(group) ? episodes.count : 0 };
    }
    const { lots, unpacked } = await this.lotsOf(tx, orgId, await askedCells(tx, orgId, group), shopIds, withDistances);
    const found = lots.map(({ lot }) => lot);
    return { episodes: columnsOfLots(found, shopIds, wantedOf(group, places)), unpacked };
  }

  /** The same in lots that agree in the fields asked for. `part`: which field of parts. */
  async apartOf(
    tx: Tx,
    orgId: string,
    group: EpisodeGroup,
    places: GroupPlaces,
    shopIds: readonly string[],
    withDistances: boolean,
    fields: readonly ApartField[],
    part: 'number' | 'brand' | 'lot' | null,
  ): Promise<ApartEpisodes> {
    const couldBePacked = isInPacks(group) && !fields.some(isBeyondEpisode);
    if (!couldBePacked || !(await isPacked(tx, orgId))) {
      const rows = await apartRecords(tx, orgId, group, places, fields, part);
      const found = rows.map(({ records }) => lotOfRecords([{ action: '', records: Buffer.from(records, 'base64') }], shopIds));
      const episodes = columnsOfLots(found, shopIds);
      return { lots: rows, episodes, unpacked: couldBePacked ? episodes.count : 0 };
    }
    const { lots, unpacked } = await this.lotsOf(tx, orgId, await askedCells(tx, orgId, group), shopIds, withDistances);
    const apart = lots.flatMap(({ lot, ...cell }) =>
      (fields.includes('action') ? lotsByAction(lot) : [{ action: null, lot }]).map((own) => ({ ...cell, ...own })),
    );
    const found = apart.map(({ lot }) => lot);
    const keys = apart.map(({ platformId, fault, intent, action }) => ({
      platformId,
      fault,
      intent,
      action,
      modelYear: null,
      plant: null,
      part: null,
    }));
    return { lots: keys, episodes: columnsOfLots(found, shopIds, wantedOf(group, places)), unpacked };
  }

  /** Reads the packs of a platform into memory before anybody asks. */
  async readAhead(tx: Tx, orgId: string, platformId: string, shopIds: readonly string[]): Promise<void> {
    if (await isPacked(tx, orgId)) await this.lotsOf(tx, orgId, { platformIds: [platformId] }, shopIds, false);
  }

  private async lotsOf(tx: Tx, orgId: string, asked: AskedCells, shopIds: readonly string[], withDistances: boolean) {
    const own = this.known.get(orgId) ?? new Map<string, Known>();
    const usable = [...own.values()].filter(
      ({ cell, lot }) =>
        (lot.distanceKm !== null || !withDistances) &&
        (asked.platformIds === undefined || asked.platformIds.includes(cell.platformId)) &&
        (asked.fault === undefined || asked.fault === cell.fault) &&
        (asked.intent === undefined || asked.intent === cell.intent),
    );
    const here = new Map(usable.map((one) => [one.digest, one]));
    const lots: CellLot[] = [];
    const read: Known[] = [];
    let unpacked = 0;
    for (const row of await packedEpisodes(tx, orgId, asked, [...here.keys()], withDistances)) {
      if (row.digest === null) {
        const lot = lotOfRecords([{ action: row.action, records: Buffer.from(row.columns, 'base64') }], shopIds);
        unpacked += lot.count;
        lots.push({ platformId: row.platformId, fault: row.fault, intent: row.intent, lot });
        continue;
      }
      const { platformId, fault, intent, digest, columns, distances } = row;
      const lot =
        columns === null
          ? here.get(digest)!.lot
          : lotOfPack(Buffer.from(columns, 'base64'), distances === null ? null : Buffer.from(distances, 'base64'));
      lots.push({ platformId, fault, intent, lot });
      read.push({ cell: { platformId, fault, intent }, digest, lot });
    }
    this.keep(orgId, read);
    return { lots, unpacked };
  }

  private keep(orgId: string, read: readonly Known[]): void {
    const own = this.known.get(orgId) ?? new Map<string, Known>();
    for (const one of read) {
      const key = `${one.cell.platformId}|${one.cell.fault}|${one.cell.intent}`;
      this.bytes += lotBytes(one.lot) - (own.has(key) ? lotBytes(own.get(key)!.lot) : 0);
      own.delete(key);
      own.set(key, one);
    }
    this.known.delete(orgId);
    this.known.set(orgId, own);
    for (const [other, packs] of this.known) {
      for (const [key, { lot }] of packs) {
        if (this.bytes <= MOST_BYTES) return;
        packs.delete(key);
        this.bytes -= lotBytes(lot);
      }
      if (packs.size === 0) this.known.delete(other);
    }
  }
}

/** What stands on parts or on the vehicle's build is in no pack. */
const isInPacks = ({
  partNumber,
  partBrand,
  partLot,
  modelYearFrom,
  modelYearTo,
  plant,
  sequenceFrom,
  sequenceTo,
}: EpisodeGroup): boolean =>
  [partNumber, partBrand, partLot, modelYearFrom, modelYearTo, plant, sequenceFrom, sequenceTo].every((one) => one === undefined);

async function askedCells(tx: Tx, orgId: string, { platformId, family, fault, intent }: EpisodeGroup): Promise<AskedCells> {
  const ofFamily =
    family === undefined ? null : (await boardPlatforms(tx, orgId)).filter((one) => one.family === family).map(({ id }) => id);
  const platformIds = platformId === undefined ? (ofFamily ?? undefined) : (ofFamily ?? [platformId]).filter((id) => id === platformId);
  return { platformIds, fault, intent };
}

function wantedOf(group: EpisodeGroup, { climateShops, seasonShops, seasonMonths }: GroupPlaces): Wanted {
  const dayOf = (day: string | undefined) => (day === undefined ? undefined : dayNumber(day));
  const seasons = seasonShops === null ? null : new Set(seasonShops.map((shopId, i) => `${shopId} ${seasonMonths![i]! - 1}`));
  const lives = climateShops === null ? null : new Set(climateShops);
  return {
    action: group.action,
    shopId: group.shopId,
    since: dayOf(group.since),
    until: dayOf(group.until),
    endedSince: dayOf(group.endedSince),
    endedUntil: dayOf(group.endedUntil),
    livesAt: lives === null ? undefined : (shopId) => lives.has(shopId),
    inSeason: seasons === null ? undefined : (shopId, month) => seasons.has(`${shopId} ${month}`),
    end: group.outcome === undefined ? undefined : (end) => isReturn(end) === (group.outcome === 'returned'),
  };
}
