import type { FaultCode } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';

import { appendBoardChanges, type BoardCell } from './board-roll.queries.js';
import {
  deleteEpisodes,
  derivedColumns,
  type EpisodeRow,
  pastOfVehicles,
  type SightingRow,
  upsertEpisodes,
  type VehicleCaseRow,
  type VehiclePast,
} from './linking.queries.js';
import { distinctCells, type RelinkedEpisode, relinked, rulesNumber } from './linking.service.js';
import type { StandingRules } from './outcome-rules.js';
import { standingRules } from './outcome-rules.queries.js';

type Writable<T> = { -readonly [K in keyof T]: T[K] };
type LinkedVehicle = Pick<VehiclePast, 'vehicleId' | 'platformId' | 'modelYear' | 'linkedBy'>;

/**
 * The pasts of the vehicles that one transaction writes about: read at once, kept in step in memory while visit after visit is stored, and the episodes
 * that follow from them written at once. The caller holds the vehicles' row locks.
 */
export class LinkBook {
  private readonly pasts = new Map<string, Writable<VehiclePast>>();
  private readonly toDerive = new Set<string>();
  private readonly toWrite = new Map<string, EpisodeRow>();
  private readonly toDelete = new Set<string>();
  private readonly cells: BoardCell[] = [];

  private constructor(private readonly rules: StandingRules) {}

  static async open(tx: Tx, orgId: string, storedVehicleIds: readonly string[]): Promise<LinkBook> {
    const pasts = storedVehicleIds.length > 0 ? await pastOfVehicles(tx, orgId, storedVehicleIds) : [];
    const book = new LinkBook(pasts[0]?.rules ?? (await standingRules(tx, orgId)));
    for (const past of pasts) book.pasts.set(past.vehicleId, past);
    return book;
  }

  /** The vehicle came in: a new case that proves and repairs nothing yet, and the sighting that goes with it. */
  addVisit(vehicle: LinkedVehicle, visit: VehicleCaseRow, sighting: SightingRow): void {
    const past = this.pasts.get(vehicle.vehicleId) ?? {
      ...vehicle,
      rules: this.rules,
      cases: [],
      repairs: [],
      sightings: [],
      episodes: [],
    };
    past.platformId = vehicle.platformId;
    past.modelYear = vehicle.modelYear;
    past.linkedBy = vehicle.linkedBy;
    past.cases.push(visit);
    const { shopId, day, odometerKm } = sighting;
    const seen = past.sightings.findIndex((one) => one.shopId === shopId && one.day === day);
    if (seen < 0) insertSorted(past.sightings, { shopId, day, odometerKm }, (one) => one.day);
    else past.sightings[seen] = { ...past.sightings[seen]!, odometerKm: larger(past.sightings[seen]!.odometerKm, odometerKm) };
    this.pasts.set(vehicle.vehicleId, past);
    this.toDerive.add(vehicle.vehicleId);
  }

  setProved(vehicleId: string, caseId: string, provedFaults: FaultCode[]): void {
    const { cases } = this.pasts.get(vehicleId)!;
    const at = cases.findIndex((one) => one.caseId === caseId);
    cases[at] = { ...cases[at]!, provedFaults };
    this.toDerive.add(vehicleId);
  }

  addRepair(vehicleId: string, repair: VehiclePast['repairs'][number]): void {
    insertSorted(this.pasts.get(vehicleId)!.repairs, repair, (one) => `${one.day} ${one.repairId}`);
    this.toDerive.add(vehicleId);
  }

  /** The case counts no longer, and its repairs have no episode. */
  voidVisit(vehicleId: string, caseId: string): void {
    const past = this.pasts.get(vehicleId)!;
    past.cases = past.cases.filter((one) => one.caseId !== caseId);
    this.toDerive.add(vehicleId);
  }

  /** Derives the episodes of a vehicle as it stands now. @returns what changed in how repairs ended since it was derived last. */
  derive(vehicleId: string): readonly RelinkedEpisode[] {
    const past = this.pasts.get(vehicleId)!;
    this.toDerive.delete(vehicleId);
    if (past.repairs.length === 0 && past.episodes.length === 0) return [];
    const { rows, changes, gone, cells } = relinked(past);
    this.cells.push(...cells);
    const replaced = new Set([...rows.map(({ repairId }) => repairId), ...gone]);
    if (replaced.size === 0) return changes;
    past.episodes = [
      ...past.episodes.filter(({ repairId }) => !replaced.has(repairId)),
      ...rows.map((row) => ({ repairId: row.repairId, row: derivedColumns(row, rulesNumber(this.rules)) })),
    ];
    for (const row of rows) this.toWrite.set(row.repairId, row);
    for (const repairId of gone) {
      this.toWrite.delete(repairId);
      this.toDelete.add(repairId);
    }
    return changes;
  }

  /** Writes the episodes that follow from everything added. */
  async store(tx: Tx, orgId: string): Promise<void> {
    for (const vehicleId of this.toDerive) this.derive(vehicleId);
    await upsertEpisodes(tx, orgId, rulesNumber(this.rules), [...this.toWrite.values()]);
    if (this.toDelete.size > 0) await deleteEpisodes(tx, orgId, { repairIds: [...this.toDelete] });
    await appendBoardChanges(tx, orgId, distinctCells(this.cells));
  }
}

const larger = (a: number | null, b: number | null) => (a === null ? b : b === null ? a : Math.max(a, b));

function insertSorted<T>(list: T[], item: T, key: (one: T) => string): void {
  const at = list.findIndex((one) => key(one) > key(item));
  if (at < 0) list.push(item);
  else list.splice(at, 0, item);
}
