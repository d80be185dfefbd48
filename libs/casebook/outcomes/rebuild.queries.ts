import type { Tx } from '#libs/database/index.js';

const HAS_REPAIRS = `(exists (select 1 from repair r where r.org_id = v.org_id and r.vehicle_id = v.id)
  or exists (select 1 from episode e where e.org_id = v.org_id and e.vehicle_id = v.id))`;

export async function countRepairedVehicles(tx: Tx, orgId: string): Promise<number> {
  const { rows } = await tx.query<{ count: number }>({
    name: 'rebuild.count',
    text: `select count(*)::int as count from (select vehicle_id from repair where org_id = $1 and vehicle_id is not null
             union select vehicle_id from episode where org_id = $1 and vehicle_id is not null) as v`,
    values: [orgId],
  });
  return rows[0]!.count;
}

/** The next vehicles with a repair, in the order of their identifiers. */
export async function nextRepairedVehicles(tx: Tx, orgId: string, after: string | null, limit: number): Promise<string[]> {
  const { rows } = await tx.query<{ id: string }>({
    name: 'rebuild.vehicles',
    text: `select v.id from vehicle v where v.org_id = $1 and ($2::uuid is null or v.id > $2) and ${HAS_REPAIRS} order by v.id limit $3`,
    values: [orgId, after, limit],
  });
  return rows.map(({ id }) => id);
}

/** Locks those of the vehicles that nobody else holds, without waiting. */
export async function lockFreeVehicles(tx: Tx, orgId: string, ids: readonly string[]): Promise<string[]> {
  const { rows } = await tx.query<{ id: string }>({
    name: 'rebuild.lock-free',
    text: 'select id from vehicle where org_id = $1 and id = any($2::uuid[]) order by id for update skip locked',
    values: [orgId, ids],
  });
  return rows.map(({ id }) => id);
}

/** Episodes nobody can derive again, of vehicles that were forgotten: only those of void cases are wrong. */
export async function lostEpisodes(tx: Tx, orgId: string): Promise<string[]> {
  const { rows } = await tx.query<{ repairId: string }>({
    name: 'rebuild.lost-episodes',
    text: `select e.repair_id as "repairId" from episode e join shop_case c on c.org_id = e.org_id and c.id = e.case_id
            where e.org_id = $1 and e.vehicle_id is null and c.status = 'void'`,
    values: [orgId],
  });
  return rows.map(({ repairId }) => repairId);
}

export interface CodedSignature {
  readonly caseId: string;
  readonly values: (number | null)[];
  readonly code: Buffer | null;
}

export async function nextSignatures(tx: Tx, orgId: string, after: string | null, limit: number): Promise<CodedSignature[]> {
  const { rows } = await tx.query<CodedSignature>({
    name: 'rebuild.signatures',
    text: `select case_id as "caseId", values, code from case_signature where org_id = $1 and ($2::uuid is null or case_id > $2) order by case_id limit $3`,
    values: [orgId, after, limit],
  });
  return rows;
}

export async function storeCodes(
  tx: Tx,
  orgId: string,
  rows: readonly { readonly caseId: string; readonly code: Buffer }[],
): Promise<void> {
  await tx.query({
    name: 'rebuild.codes',
    text: `update case_signature s set code = c.code from unnest($2::uuid[], $3::bytea[]) as c(case_id, code) where s.org_id = $1 and s.case_id = c.case_id`,
    values: [orgId, rows.map(({ caseId }) => caseId), rows.map(({ code }) => code)],
  });
}
