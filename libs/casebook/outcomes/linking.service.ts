import { v7 as uuidv7 } from 'uuid';
import type { FaultCode, RepairAction } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import { CATALOGUE } from '#libs/engine/index.js';
import { moveRepairs } from '../repairs/repairs.queries.js';
import { lockVehicle } from '../vehicles/vehicles.queries.js';
import { episodeOutcome, type LinkedCase, type LinkingRules } from './linking.js';
import { derivedColumns, type EpisodeRow, pastOfVehicle, upsertEpisodes } from './linking.queries.js';

/**
 * Faults a repair can bring about by itself. Common practice: an opened circuit can be left with air, moisture or the wrong charge; a top-up
 * by pressure overfills; flushing washes the oil out.
 */
const CAUSED_BY_OPENING: readonly FaultCode[] = ['air-in-system', 'moisture', 'overcharge', 'undercharge', 'excess-oil', 'low-oil'];
const OPENING_ACTIONS: readonly RepairAction[] = [
  'replace-filter-cartridge',
  'replace-condenser',
  'replace-compressor',
  'replace-compressor-and-condenser',
  'replace-receiver-drier',
  'replace-accumulator',
  'replace-thermostatic-valve',
  'replace-orifice-tube',
  'replace-hose',
  'replace-seals',
  'replace-evaporator',
  'replace-control-valve',
  'recover-evacuate-charge',
];

/** Raised whenever a rule of `linking.ts` or a table here changes; every episode names the rules it was derived by. */
export const LINKING_RULES: LinkingRules = Object.freeze({
  version: 1,
  leadsTo: new Map(CATALOGUE.map((entry) => [entry.code as FaultCode, entry.leadsTo as readonly FaultCode[]])),
  causedBy: new Map<RepairAction, readonly FaultCode[]>([
    ...OPENING_ACTIONS.map((action) => [action, CAUSED_BY_OPENING] as const),
    ['top-up', ['overcharge', 'air-in-system']],
    ['flush-lines', ['low-oil', 'air-in-system', 'moisture']],
    ['correct-oil', ['excess-oil', 'low-oil']],
  ]),
});

/** Places in `derivedColumns`. */
const END_KIND = 8;
const END_CASE = 10;

/** What changed in how repairs ended, for events and the audit trail. */
export interface RelinkedEpisode {
  readonly repairId: string;
  readonly from: string | null;
  readonly to: string;
  readonly endCaseId: string | null;
}

/** Keeps episodes true to the cases: derived again, in the transaction that stored what changed. */
export class LinkingService {
  /** A case turned out to be about another vehicle: its repairs go along, and both vehicles are linked again. */
  async caseMoved(tx: Tx, orgId: string, caseId: string, from: string | null, to: string): Promise<void> {
    if (from !== to) await moveRepairs(tx, orgId, caseId, to);
    // Locks are taken in the order of the identifiers, so that two moves that cross cannot wait for each other.
    for (const vehicleId of [...new Set(from === null ? [to] : [from, to])].sort()) {
      await lockVehicle(tx, orgId, vehicleId);
      await this.relinkVehicle(tx, orgId, vehicleId);
    }
  }

  /** Derives every episode of the vehicle again. The caller holds the vehicle's row lock. */
  async relinkVehicle(tx: Tx, orgId: string, vehicleId: string): Promise<RelinkedEpisode[]> {
    const past = await pastOfVehicle(tx, orgId, vehicleId);
    if (!past || past.repairs.length === 0) return [];
    const { repairs, sightings } = past;
    const stored = new Map(past.episodes.map((episode) => [episode.repairId, episode.row]));
    const cases: LinkedCase[] = past.cases.map((row) => ({
      ...row,
      repairedFaults: repairs
        .filter((repair) => repair.caseId === row.caseId && repair.action !== 'no-repair')
        .map((repair) => repair.fault),
    }));
    const rows: EpisodeRow[] = [];
    const changes: RelinkedEpisode[] = [];
    for (const repair of repairs) {
      if (repair.action === 'no-repair') continue;
      const visit = cases.find((one) => one.caseId === repair.caseId);
      if (!visit) continue;
      const outcome = episodeOutcome(repair, visit, cases, repairs, sightings, LINKING_RULES);
      const row: EpisodeRow = {
        id: uuidv7(),
        repairId: repair.repairId,
        caseId: repair.caseId,
        vehicleId,
        platformId: past.cases.find((row) => row.caseId === repair.caseId)?.platformId ?? past.platformId,
        shopId: repair.shopId,
        fault: repair.fault,
        action: repair.action,
        intent: repair.intent,
        startedOn: repair.day,
        endKind: outcome.end,
        endedOn: outcome.endedOn < repair.day ? repair.day : outcome.endedOn,
        endCaseId: outcome.endCaseId,
        endShopId: outcome.endShopId,
        distanceKm:
          outcome.odometerKm !== null && visit.odometerKm !== null && outcome.odometerKm >= visit.odometerKm
            ? outcome.odometerKm - visit.odometerKm
            : null,
        linkedBy: past.linkedBy,
      };
      const before = stored.get(row.repairId);
      const now = derivedColumns(row, LINKING_RULES.version);
      if (before && JSON.stringify(before) === JSON.stringify(now)) continue;
      rows.push(row);
      const from = before ? String(before[END_KIND]) : null;
      if (from !== row.endKind || before?.[END_CASE] !== row.endCaseId) {
        changes.push({ repairId: row.repairId, from, to: row.endKind, endCaseId: row.endCaseId });
      }
    }
    await upsertEpisodes(tx, orgId, LINKING_RULES.version, rows);
    return changes;
  }
}
