import { createHash } from 'node:crypto';
import { v7 as uuidv7 } from 'uuid';
import { type Actor, ROLE_PERMISSIONS } from '#libs/casebook/index.js';
import { LinkingService } from '#libs/casebook/outcomes/linking.service.js';
import type { Platform, Shop } from '#libs/contracts/index.js';
import { drawsOf } from '#libs/demo/draws.js';
import { DEMO_PLATFORMS, DEMO_SHOPS } from '#libs/demo/index.js';
import { type PlannedVehicle, REGION_DAYS } from '#libs/demo/plan.js';
import type { TestApi } from './api.js';

const DAY_MS = 86_400_000;

export interface StoredRegion {
  readonly shops: readonly Shop[];
  readonly platforms: readonly Platform[];
  /** Identifiers of the vehicles, in the order of the plan. */
  readonly vehicleIds: readonly string[];
}

export function administrator(orgId: string): Actor {
  return {
    orgId,
    credentialId: orgId,
    role: 'administrator',
    permissions: ROLE_PERMISSIONS.administrator,
    shopIds: null,
    requestId: 'test',
  };
}

/**
 * A planned region in bulk: vehicles, cases, proofs, repairs and sightings by five statements, then the product's own linking, vehicle by vehicle.
 * No evidence and no diagnosis: questions about outcomes need neither. `end` is the day after the plan's last.
 */
export async function storeRegion(api: TestApi, orgId: string, plan: readonly PlannedVehicle[], end: Date): Promise<StoredRegion> {
  const actor = administrator(orgId);
  const shops = await Promise.all(DEMO_SHOPS.map((shop) => api.casebook.shops.addShop(actor, shop)));
  const platforms = await Promise.all(DEMO_PLATFORMS.map((platform) => api.casebook.platforms.addPlatform(actor, platform)));
  const first = Math.floor(end.getTime() / DAY_MS) - REGION_DAYS;
  const day = (offset: number) => new Date((first + offset) * DAY_MS).toISOString().slice(0, 10);
  const at = end.toISOString();
  const vehicleIds = plan.map(({ index }) => steadyId(orgId, index));
  const cases = plan.flatMap((vehicle, i) =>
    vehicle.visits.map((visit, v) => ({
      id: uuidv7(),
      vehicleId: vehicleIds[i]!,
      platformId: platforms[vehicle.platform]!.id,
      shop: shops[visit.shop]!,
      platform: platforms[vehicle.platform]!,
      day: day(visit.day),
      visit,
      draw: drawsOf(7, vehicle.index * 16 + v),
    })),
  );
  const proofs = cases.filter(({ visit }) => visit.proof !== null && visit.fault !== null);
  const repairs = cases.flatMap((one) => one.visit.repairs.map((repair) => ({ ...one, repair, repairId: uuidv7(), cost: priceOf(one) })));
  const seen = plan.flatMap((vehicle, i) => vehicle.sightings.map((sighting) => ({ ...sighting, vehicleId: vehicleIds[i]! })));
  await api.casebook.context.inTenant(orgId, async (tx) => {
    await tx.query({
      name: 'test.vehicles',
      text: `insert into vehicle (org_id, id, vin_hash, platform_id, model_year, created_at)
             select $1, v.id, decode(v.hash, 'hex'), v.platform, v.year, $6
               from unnest($2::uuid[], $3::text[], $4::uuid[], $5::int[]) as v(id, hash, platform, year)`,
      values: [
        orgId,
        vehicleIds,
        plan.map(({ vin }) => (vin === null ? null : createHash('sha256').update(vin).digest('hex'))),
        plan.map(({ platform }) => platforms[platform]!.id),
        plan.map(({ modelYear }) => modelYear),
        at,
      ],
    });
    await tx.query({
      name: 'test.cases',
      text: `insert into shop_case (org_id, id, version, evidence_revision, shop_id, vehicle_id, platform_id, status, complaint, opened_at, odometer_km,
                                    proved_faults, backfill, warnings, created_at, updated_at)
             select $1, c.id, 1, 1, c.shop, c.vehicle, c.platform, 'open', c.complaint, c.opened, c.km,
                    case when c.fault is null then '{}'::text[] else array[c.fault] end, true, '[]', c.opened, c.opened
               from unnest($2::uuid[], $3::uuid[], $4::uuid[], $5::uuid[], $6::text[], $7::timestamptz[], $8::float8[], $9::text[])
                 as c(id, shop, vehicle, platform, complaint, opened, km, fault)`,
      values: [
        orgId,
        cases.map(({ id }) => id),
        cases.map(({ shop }) => shop.id),
        cases.map(({ vehicleId }) => vehicleId),
        cases.map(({ platformId }) => platformId),
        cases.map(({ visit }) => visit.complaint),
        cases.map((one) => `${one.day}T09:00:00Z`),
        cases.map(({ visit }) => visit.odometerKm),
        cases.map(({ visit }) => (visit.proof === null || visit.proof === 'judgement' ? null : visit.fault)),
      ],
    });
    await tx.query({
      name: 'test.proofs',
      text: `insert into proof (org_id, id, case_id, faults, method, created_at)
             select $1, p.id, p.case_id, array[p.fault], p.method, $6
               from unnest($2::uuid[], $3::uuid[], $4::text[], $5::text[]) as p(id, case_id, fault, method)`,
      values: [
        orgId,
        proofs.map(() => uuidv7()),
        proofs.map(({ id }) => id),
        proofs.map(({ visit }) => visit.fault),
        proofs.map(({ visit }) => visit.proof),
        at,
      ],
    });
    await tx.query({
      name: 'test.repairs',
      text: `insert into repair (org_id, id, case_id, shop_id, vehicle_id, fault, action, intent, day, parts, recovered_g, charged_g, labour_hours, cost,
                                 created_at)
             select $1, r.id, r.case_id, r.shop, r.vehicle, r.fault, r.action, r.intent, r.day, '[]', r.recovered, r.charged, r.hours, r.cost, $14
               from unnest($2::uuid[], $3::uuid[], $4::uuid[], $5::uuid[], $6::text[], $7::text[], $8::text[], $9::date[], $10::float8[], $11::float8[],
                           $12::float8[], $13::float8[])
                 as r(id, case_id, shop, vehicle, fault, action, intent, day, recovered, charged, hours, cost)`,
      values: [
        orgId,
        repairs.map(({ repairId }) => repairId),
        repairs.map(({ id }) => id),
        repairs.map(({ shop }) => shop.id),
        repairs.map(({ vehicleId }) => vehicleId),
        repairs.map(({ repair }) => repair.fault),
        repairs.map(({ repair }) => repair.action),
        repairs.map(({ repair }) => repair.intent),
        repairs.map((one) => one.day),
        repairs.map(({ repair, platform }) => (OPENS.test(repair.action) ? platform.chargeG - 100 : null)),
        repairs.map(({ repair, platform, shop, draw }) =>
          OPENS.test(repair.action) ? filled(platform, shop, draw) : repair.action === 'top-up' ? 150 : null,
        ),
        repairs.map(({ draw }) => 1 + draw.below(3)),
        repairs.map(({ cost }) => cost),
        at,
      ],
    });
    await tx.query({
      name: 'test.sightings',
      text: `insert into sighting (org_id, id, vehicle_id, shop_id, day, odometer_km)
             select $1, s.* from unnest($2::uuid[], $3::uuid[], $4::uuid[], $5::date[], $6::float8[]) as s
             on conflict do nothing`,
      values: [
        orgId,
        seen.map(() => uuidv7()),
        seen.map(({ vehicleId }) => vehicleId),
        seen.map(({ shop }) => shops[shop]!.id),
        seen.map((one) => day(one.day)),
        seen.map(({ odometerKm }) => odometerKm),
      ],
    });
    const linking = new LinkingService();
    for (const vehicleId of vehicleIds) await linking.relinkVehicle(tx, orgId, vehicleId);
  });
  return { shops, platforms, vehicleIds };
}

/** The same identifiers in every run but for the organisation's part, so that a vehicle stays in its half of discovery and replication. */
function steadyId(orgId: string, index: number): string {
  const hex = createHash('sha256').update(`vehicle ${index}`).digest('hex');
  return `${orgId.slice(0, 13)}-7${hex.slice(0, 3)}-8${hex.slice(3, 6)}-${hex.slice(6, 18)}`;
}

const OPENS = /^(replace-c|replace-seals|recover)/;
/** Its charging machine fills this much too much; all others are right but for 2 % of spread. */
export const BIASED_SCALE = { shop: 'station-yard', share: 0.08 } as const;
function filled(platform: Platform, shop: Shop, draw: { normal(): number }): number {
  return Math.round(platform.chargeG * (1 + 0.02 * draw.normal() + (shop.code === BIASED_SCALE.shop ? BIASED_SCALE.share : 0)));
}
/** Stop-gaps cost a third of a lasting repair here, so that which is cheaper in the long run is worth asking. */
function priceOf({ shop, visit, draw }: { shop: Shop; visit: PlannedVehicle['visits'][number]; draw: { unit(): number } }): number {
  return Math.round(shop.labourRate * (visit.repairs[0]?.intent === 'temporary' ? 2 : 6) * (0.8 + 0.4 * draw.unit()));
}
