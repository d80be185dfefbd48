import { v7 as uuidv7 } from 'uuid';
import { standardAtmospherePressure } from '#libs/air/index.js';
import { amendEvidence, EMPTY_EVIDENCE, judgingContext } from '#libs/casebook/cases/evidence-rules.js';
import type { Casebook } from '#libs/casebook/index.js';
import { ROLE_PERMISSIONS } from '#libs/casebook/index.js';
import { drawsOf } from '#libs/demo/draws.js';
import { planRegion } from '#libs/demo/plan.js';
import { evidenceOf } from '#libs/demo/readings.js';
import { DEMO_PLATFORMS, DEMO_SHOPS } from '#libs/demo/region.js';

/** Beyond so many different visits they are used again. */
const DIFFERENT = 8_000;
const CHUNK = 2_000;
const VISITS_A_VEHICLE = 3;

/**
 * A history in bulk: visits of the invented region with their readings, every fifth proved, each answered by an engine of another version whose answer is
 * gone but for its version. By statements of its own, since opening a hundred thousand cases one by one is another matter.
 */
export async function storeHistory(casebook: Casebook, orgId: string, count: number): Promise<void> {
  const actor = {
    orgId,
    credentialId: orgId,
    role: 'administrator',
    permissions: ROLE_PERMISSIONS.administrator,
    shopIds: null,
    requestId: 'history',
  } as const;
  const shops = await Promise.all(DEMO_SHOPS.map((shop) => casebook.shops.addShop(actor, shop)));
  const platforms = await Promise.all(DEMO_PLATFORMS.map((platform) => casebook.platforms.addPlatform(actor, platform)));
  const visits = planRegion()
    .flatMap((vehicle) =>
      vehicle.visits.map((visit, i) => ({ visit, platform: platforms[vehicle.platform]!, draw: vehicle.index * 16 + i })),
    )
    .slice(0, Math.min(count, DIFFERENT))
    .map(({ visit, platform, draw }) => {
      const shop = shops[visit.shop]!;
      const outsideC = 22 + (draw % 14);
      const typed = evidenceOf(
        { platform, elevationM: shop.elevationM, outsideC, fault: visit.fault, severity: visit.severity },
        drawsOf(5, draw),
      );
      const context = judgingContext(platform, standardAtmospherePressure(shop.elevationM), undefined);
      const { evidence } = amendEvidence(EMPTY_EVIDENCE, typed, context, '/evidence');
      return { visit, platform, shop, document: JSON.stringify(evidence) };
    });
  for (let from = 0; from < count; from += CHUNK) {
    const chunk = Array.from({ length: Math.min(CHUNK, count - from) }, (_, i) => {
      const one = visits[(from + i) % visits.length]!;
      const proved = (from + i) % 5 === 0 && one.visit.fault !== null ? one.visit.fault : null;
      return { ...one, id: uuidv7(), proved, openedAt: new Date(Date.UTC(2024, 0, 1) + ((from + i) % 900) * 86_400_000).toISOString() };
    });
    const vehicles = Array.from({ length: Math.ceil(chunk.length / VISITS_A_VEHICLE) }, () => uuidv7());
    const ids = chunk.map(({ id }) => id);
    await casebook.context.inTenant(orgId, async (tx) => {
      await tx.query({
        name: 'history.vehicles',
        text: 'insert into vehicle (org_id, id, created_at) select $1, id, now() from unnest($2::uuid[]) as id',
        values: [orgId, vehicles],
      });
      await tx.query({
        name: 'history.cases',
        text: `insert into shop_case (org_id, id, version, evidence_revision, shop_id, vehicle_id, platform_id, status, complaint, opened_at, leading_fault,
                                      leading_probability, proved_faults, backfill, warnings, created_at, updated_at)
               select $1, n.id, 1, 1, n.shop, n.vehicle, n.platform, 'closed', n.complaint, n.opened, 'undercharge', 0.5,
                      case when n.proved is null then '{}'::text[] else array[n.proved] end, true, '[]', n.opened, n.opened
                 from unnest($2::uuid[], $3::uuid[], $4::uuid[], $5::uuid[], $6::text[], $7::timestamptz[], $8::text[])
                   as n(id, shop, vehicle, platform, complaint, opened, proved)`,
        values: [
          orgId,
          ids,
          chunk.map(({ shop }) => shop.id),
          chunk.map((_, i) => vehicles[Math.floor(i / VISITS_A_VEHICLE)]),
          chunk.map(({ platform }) => platform.id),
          chunk.map(({ visit }) => visit.complaint),
          chunk.map(({ openedAt }) => openedAt),
          chunk.map(({ proved }) => proved),
        ],
      });
      await tx.query({
        name: 'history.evidence',
        text: `insert into case_evidence (org_id, case_id, revision, document, created_at)
               select $1, n.id, 1, n.document::jsonb, now() from unnest($2::uuid[], $3::text[]) as n(id, document)`,
        values: [orgId, ids, chunk.map(({ document }) => document)],
      });
      await tx.query({
        name: 'history.answers',
        text: `insert into diagnosis (org_id, id, case_id, case_revision, engine_version, result, signature_version, signature, created_at, shown)
               select $1, n.id, n.id, 1, 'engine-0', '\\x7b7d', 's0', '{}', now(), false from unnest($2::uuid[]) as n(id)`,
        values: [orgId, ids],
      });
      await tx.query({
        name: 'history.signatures',
        text: `insert into case_signature (org_id, case_id, version, layout, opened_at, values)
               select $1, n.id, 's0', n.layout, now(), '{}' from unnest($2::uuid[], $3::text[]) as n(id, layout)`,
        values: [orgId, ids, chunk.map(({ platform }) => platform.layout)],
      });
      const proofs = chunk.filter(({ proved }) => proved !== null);
      await tx.query({
        name: 'history.proofs',
        text: `insert into proof (org_id, id, case_id, faults, method, created_at)
               select $1, n.id, n.case_id, array[n.fault], 'opened-part', now() from unnest($2::uuid[], $3::uuid[], $4::text[]) as n(id, case_id, fault)`,
        values: [orgId, proofs.map(() => uuidv7()), proofs.map(({ id }) => id), proofs.map(({ proved }) => proved)],
      });
    });
  }
}
