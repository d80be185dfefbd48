import type { FaultCode, RepairAction } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import { CATALOGUE } from '#libs/engine/index.js';
import { newId } from '../ids.js';
import { moveRepairs } from '../repairs/repairs.queries.js';
import { forgetOwnReadings, lockVehicle } from '../vehicles/vehicles.queries.js';
import { appendBoardChanges, type BoardCell } from './board-roll.queries.js';
import { dayNumber, dayOf } from './clocks.js';
import { episodeOutcome, type LinkedCase, type LinkingRules } from './linking.js';
import {
  deleteEpisodes,
  derivedColumns,
  type EpisodeRow,
  forgetVehicleOfEpisodes,
  pastOfVehicles,
  type StoredEpisode,
  upsertEpisodes,
  type VehiclePast,
} from './linking.queries.js';
import { distanceOf, odometerReadings } from './odometer.js';
import type { StandingRules } from './outcome-rules.js';
import { lastWatched } from './return-rates.js';

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

/** Raised whenever a rule of `linking.ts` or a table here changes. */
const LINKING_RULES = Object.freeze({
  version: 5,
  leadsTo: new Map(CATALOGUE.map((entry) => [entry.code as FaultCode, entry.leadsTo as readonly FaultCode[]])),
  causedBy: new Map<RepairAction, readonly FaultCode[]>([
    ...OPENING_ACTIONS.map((action) => [action, CAUSED_BY_OPENING] as const),
    ['top-up', ['overcharge', 'air-in-system']],
    ['flush-lines', ['low-oil', 'air-in-system', 'moisture']],
    ['correct-oil', ['excess-oil', 'low-oil']],
  ]),
});

/** Versions of the code's rules stay below this. */
const OWN_VERSIONS = 1_000;
/** What an episode names: the code's rules and the organisation's it was derived by. */
export const rulesNumber = (own: StandingRules): number => LINKING_RULES.version + OWN_VERSIONS * own.version;

/** Places in `derivedColumns`. */
const PLATFORM = 2;
const FAULT = 4;
const INTENT = 6;
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
    const vehicleIds = [...new Set(from === null ? [to] : [from, to])].sort();
    for (const vehicleId of vehicleIds) await lockVehicle(tx, orgId, vehicleId);
    if (from !== null && from !== to) await forgetOwnReadings(tx, orgId, from, caseId);
    for (const vehicleId of vehicleIds) await this.relinkVehicle(tx, orgId, vehicleId);
  }

  /** Derives every episode of the vehicle again. The caller holds the vehicle's row lock. */
  async relinkVehicle(tx: Tx, orgId: string, vehicleId: string): Promise<readonly RelinkedEpisode[]> {
    const [past] = await pastOfVehicles(tx, orgId, [vehicleId]);
    if (!past || (past.repairs.length === 0 && past.episodes.length === 0)) return [];
    const { rows, changes, gone, cells } = relinked(past);
    await upsertEpisodes(tx, orgId, rulesNumber(past.rules), rows);
    if (gone.length > 0) await deleteEpisodes(tx, orgId, { repairIds: gone });
    await appendBoardChanges(tx, orgId, cells);
    return changes;
  }

  /** Repairs of a void case have no episode. Whatever else its vehicle had is linked again by the caller. */
  async caseVoided(tx: Tx, orgId: string, caseId: string): Promise<void> {
    const left = await deleteEpisodes(tx, orgId, { caseId });
    await appendBoardChanges(tx, orgId, distinctCells(left));
  }

  /** A repair is about to be deleted. Whatever else its vehicle had is linked again by the caller. */
  async repairRemoved(tx: Tx, orgId: string, repairId: string): Promise<void> {
    const left = await deleteEpisodes(tx, orgId, { repairIds: [repairId] });
    await appendBoardChanges(tx, orgId, distinctCells(left));
  }

  /** A vehicle is deleted: its episodes stay, and name it no longer. */
  async vehicleForgotten(tx: Tx, orgId: string, vehicleId: string): Promise<void> {
    const left = await forgetVehicleOfEpisodes(tx, orgId, vehicleId);
    await appendBoardChanges(tx, orgId, distinctCells(left));
  }
}

/** What has to be written so that the stored episodes of a vehicle are those that its past gives. */
export interface Relinked {
  readonly rows: readonly EpisodeRow[];
  readonly changes: readonly RelinkedEpisode[];
  /** Repairs whose stored episode should not be there. */
  readonly gone: readonly string[];
  /** Cells of the board that an episode leaves, joins or changes in. */
  readonly cells: readonly BoardCell[];
}

export function relinked(past: VehiclePast): Relinked {
  const stored = new Map(past.episodes.map((episode) => [episode.repairId, episode.row]));
  const rows: EpisodeRow[] = [];
  const changes: RelinkedEpisode[] = [];
  const touched: PlacedCell[] = [];
  const derived = derivedEpisodes(past);
  const kept = new Set(derived.map(({ repairId }) => repairId));
  const gone = [...stored.keys()].filter((repairId) => !kept.has(repairId));
  for (const row of derived) {
    const before = stored.get(row.repairId);
    const now = derivedColumns(row, rulesNumber(past.rules));
    if (before && JSON.stringify(before) === JSON.stringify(now)) continue;
    rows.push(row);
    touched.push(row);
    if (before) touched.push(cellOf(before));
    const from = before ? String(before[END_KIND]) : null;
    if (from !== row.endKind || before?.[END_CASE] !== row.endCaseId) {
      changes.push({ repairId: row.repairId, from, to: row.endKind, endCaseId: row.endCaseId });
    }
  }
  return { rows, changes, gone, cells: distinctCells([...touched, ...gone.map((repairId) => cellOf(stored.get(repairId)!))]) };
}

/** A cell with or without a platform; only those with one stand on the board. */
interface PlacedCell {
  readonly platformId: string | null;
  readonly fault: string;
  readonly intent: string;
}

const cellOf = (row: StoredEpisode['row']) => ({ platformId: row[PLATFORM], fault: row[FAULT], intent: row[INTENT] }) as PlacedCell;

export function distinctCells(cells: readonly PlacedCell[]): BoardCell[] {
  const placed = cells.filter(({ platformId }) => platformId !== null) as BoardCell[];
  return [
    ...new Map(placed.map(({ platformId, fault, intent }) => [`${platformId}|${fault}|${intent}`, { platformId, fault, intent }])).values(),
  ];
}

/** Every episode of a vehicle, from its past alone. */
export function derivedEpisodes(past: Omit<VehiclePast, 'episodes'>): EpisodeRow[] {
  const rules: LinkingRules = { ...LINKING_RULES, own: past.rules };
  const { repairs, sightings } = past;
  const cases: LinkedCase[] = past.cases.map((row) => ({
    ...row,
    repairedFaults: repairs.filter((repair) => repair.caseId === row.caseId && repair.action !== 'no-repair').map((repair) => repair.fault),
  }));
  const home = homeShop([...past.cases, ...sightings]);
  const readings = odometerReadings([...past.cases, ...sightings]);
  return repairs.flatMap((repair): EpisodeRow[] => {
    const visit = past.cases.find((one) => one.caseId === repair.caseId);
    if (!visit || repair.action === 'no-repair') return [];
    const linkedVisit = cases.find((one) => one.caseId === repair.caseId)!;
    const outcome = episodeOutcome(repair, linkedVisit, cases, repairs, sightings, rules);
    const endedOn = outcome.endedOn < repair.day ? repair.day : outcome.endedOn;
    return [
      {
        id: newId(),
        repairId: repair.repairId,
        caseId: repair.caseId,
        vehicleId: past.vehicleId,
        platformId: visit.platformId ?? past.platformId,
        shopId: repair.shopId,
        fault: repair.fault,
        action: repair.action,
        intent: repair.intent,
        startedOn: repair.day,
        endKind: outcome.end,
        endedOn,
        endCaseId: outcome.endCaseId,
        endShopId: outcome.endShopId,
        distanceKm: distanceOf(readings, past.modelYear, {
          started: visit.day,
          ended: endedOn,
          followed: outcome.end === 'running' ? followedTo(repair.day, endedOn, past.rules) : endedOn,
        }),
        linkedBy: past.linkedBy,
        homeShopId: home ?? repair.shopId,
      },
    ];
  });
}

/** The day up to which a running repair is followed at most, whatever day it is today. */
function followedTo(startedOn: string, endedOn: string, rules: StandingRules): string {
  const span = { started: dayNumber(startedOn), ended: dayNumber(endedOn), end: 'running' } as const;
  return dayOf(lastWatched(span, Number.POSITIVE_INFINITY, rules));
}

/** The shop that has seen the vehicle most often, for any job; of several, the first by identifier. It lives in that climate, wherever it was repaired. */
function homeShop(seen: readonly { readonly shopId: string }[]): string | null {
  const times = new Map<string, number>();
  for (const { shopId } of seen) times.set(shopId, (times.get(shopId) ?? 0) + 1);
  let home: string | null = null;
  for (const [shopId, count] of times) {
    const most = home === null ? 0 : times.get(home)!;
    if (count > most || (count === most && shopId < home!)) home = shopId;
  }
  return home;
}
