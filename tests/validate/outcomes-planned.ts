import { createHash } from 'node:crypto';
import { dayNumber } from '#libs/casebook/outcomes/clocks.js';
import { derivedEpisodes } from '#libs/casebook/outcomes/linking.service.js';
import { COMMON_RULES } from '#libs/casebook/outcomes/outcome-rules.js';
import type { BoardPlatform, ShopClimate } from '#libs/casebook/outcomes/outcomes.queries.js';
import type { ProvedVisit, WatchedVehicle } from '#libs/casebook/outcomes/patterns.queries.js';
import type { RecordedCases, ReviewedSpan } from '#libs/casebook/outcomes/shops-review.queries.js';
import type { Onset } from '#libs/casebook/outcomes/watches.queries.js';
import type { FaultCode } from '#libs/contracts/index.js';
import { DEMO_PLATFORMS, DEMO_SHOPS } from '#libs/demo/index.js';
import { type PlannedVehicle, REGION_DAYS } from '#libs/demo/plan.js';

/** The planned region counts its seasons from the first of January. */
export const END = new Date('2027-01-01T00:00:00Z');
const FIRST_DAY = dayNumber('2027-01-01') - REGION_DAYS;

/** A region of the planned kind as the questions read it: what the tables would give, without the tables. */
export interface Region {
  readonly spans: readonly ReviewedSpan[];
  readonly onsets: readonly Onset[];
  readonly vehicles: readonly WatchedVehicle[];
  readonly visits: readonly ProvedVisit[];
  readonly recorded: ReadonlyMap<string, RecordedCases>;
}

export const PLATFORMS: readonly BoardPlatform[] = DEMO_PLATFORMS.map(({ code, name, family }) => ({ id: code, code, name, family }));
/** Shops by their codes, or by the identifiers they were stored under: of shops that saw a vehicle equally often it lives at the first by identifier. */
const CODES: readonly string[] = DEMO_SHOPS.map(({ code }) => code);
export const climatesOf = (shopIds = CODES): ShopClimate[] =>
  DEMO_SHOPS.map(({ normals }, shop) => ({ id: shopIds[shop]!, normals: [...normals], observed: [] }));
const dayText = (day: number) => new Date((FIRST_DAY + day) * 86_400_000).toISOString().slice(0, 10);

export function regionOf(plan: readonly PlannedVehicle[], shopIds = CODES): Region {
  const spans: ReviewedSpan[] = [];
  const onsets: Onset[] = [];
  const vehicles: WatchedVehicle[] = [];
  const visits: ProvedVisit[] = [];
  const recorded = new Map<string, { shopId: string; cases: number; proved: number; repaired: number }>();
  for (const vehicle of plan) {
    const platform = DEMO_PLATFORMS[vehicle.platform]!;
    const id = `vehicle ${vehicle.index}`;
    const isLinked = vehicle.vin !== null;
    const cases = vehicle.visits.map((visit, v) => ({
      caseId: `${vehicle.index}-${v}`,
      shopId: shopIds[visit.shop]!,
      platformId: platform.code,
      day: dayText(visit.day),
      openedAt: visit.day,
      complaint: visit.complaint,
      provedFaults: visit.fault === null || visit.proof === null || visit.proof === 'judgement' ? [] : [visit.fault],
      odometerKm: visit.odometerKm,
    }));
    const repairs = vehicle.visits.flatMap((visit, v) =>
      visit.repairs.map((repair, r) => ({
        ...repair,
        repairId: `${vehicle.index}-${v}-${r}`,
        caseId: cases[v]!.caseId,
        shopId: cases[v]!.shopId,
        day: cases[v]!.day,
      })),
    );
    const sightings = vehicle.sightings.map(({ day, shop, odometerKm }) => ({
      day: dayText(day),
      shopId: shopIds[shop]!,
      odometerKm,
    }));
    // Every visit of a car that nobody can name is a car of its own.
    const pasts = isLinked
      ? [{ cases, repairs, sightings }]
      : cases.map((one) => ({ cases: [one], repairs: repairs.filter(({ caseId }) => caseId === one.caseId), sightings: [] }));
    const ended = new Set<string>();
    for (const past of pasts) {
      const derived = derivedEpisodes({
        vehicleId: id,
        platformId: platform.code,
        modelYear: vehicle.modelYear,
        linkedBy: isLinked ? 'vin' : 'none',
        ...past,
        rules: COMMON_RULES,
      });
      for (const row of derived) {
        if (row.endCaseId !== null && row.endKind !== 'left') ended.add(row.endCaseId);
        spans.push({
          started: dayNumber(row.startedOn),
          ended: dayNumber(row.endedOn),
          end: row.endKind,
          shopId: row.shopId,
          homeShopId: row.homeShopId,
          vehicleId: row.vehicleId,
          linkedBy: row.linkedBy,
          distanceKm: row.distanceKm,
          platformId: row.platformId,
          family: platform.family,
          fault: row.fault as FaultCode,
          intent: repairs.find(({ repairId }) => repairId === row.repairId)!.intent,
          endShopId: row.endShopId,
        });
      }
    }
    for (const [v, one] of cases.entries()) {
      const day = FIRST_DAY + vehicle.visits[v]!.day;
      const own = recorded.get(one.shopId) ?? { shopId: one.shopId, cases: 0, proved: 0, repaired: 0 };
      recorded.set(one.shopId, own);
      own.cases += 1;
      own.proved += one.provedFaults.length > 0 ? 1 : 0;
      own.repaired += repairs.some(({ caseId }) => caseId === one.caseId) ? 1 : 0;
      const faults = new Set([...one.provedFaults, ...repairs.filter(({ caseId }) => caseId === one.caseId).map(({ fault }) => fault)]);
      if (!ended.has(one.caseId)) {
        for (const fault of faults)
          onsets.push({
            platformId: platform.code,
            fault,
            day,
            shopId: one.shopId,
            modelYear: vehicle.modelYear,
            plant: null,
            sequenceBucket: null,
          });
      }
      for (const fault of one.provedFaults) visits.push({ vehicleId: id, isLinked, fault, day, shopId: one.shopId });
    }
    if (!isLinked || cases.length === 0) continue;
    const first = Math.min(...vehicle.visits.map(({ day }) => day));
    const seen = [...vehicle.visits, ...vehicle.sightings].map(({ day }) => day).filter((day) => day >= first);
    vehicles.push({
      id,
      half: (createHash('sha256').update(vehicle.vin!).digest()[0]! & 1) as 0 | 1,
      platformId: platform.code,
      modelYear: vehicle.modelYear,
      firstYear: platform.firstYear,
      firstShopId: cases[0]!.shopId,
      days: [...new Set(seen)].sort((a, b) => a - b).map((day) => FIRST_DAY + day),
    });
  }
  return { spans, onsets, vehicles, visits, recorded };
}
