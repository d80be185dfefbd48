import type { FaultCode, Policy } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';

const COLUMNS = `id, platform_id as "platformId", fault, action, rule, since::text as since, ended_on::text as "endedOn", note,
  created_at as "createdAt"`;

export async function insertPolicy(tx: Tx, orgId: string, policy: Policy): Promise<void> {
  await tx.query({
    name: 'policies.insert',
    text: `insert into policy (org_id, id, platform_id, fault, action, rule, since, ended_on, note, created_at)
           values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)`,
    values: [
      orgId,
      policy.id,
      policy.platformId,
      policy.fault,
      policy.action,
      policy.rule,
      policy.since,
      policy.endedOn,
      policy.note,
      policy.createdAt,
    ],
  });
}

/** Policies, oldest first. `day` null: ended ones too; else only those that are not ended on that day. */
export async function listPolicies(
  tx: Tx,
  orgId: string,
  platformId: string | null,
  fault: FaultCode | null,
  day: string | null,
): Promise<Policy[]> {
  const { rows } = await tx.query<Policy>({
    name: 'policies.list',
    text: `select ${COLUMNS} from policy
            where org_id = $1 and ($2::uuid is null or platform_id = $2) and ($3::text is null or fault = $3)
              and ($4::date is null or ended_on is null or ended_on > $4)
            order by since, id`,
    values: [orgId, platformId, fault, day],
  });
  return rows;
}

/** Policies in force on a platform on a day. */
export async function policiesOn(tx: Tx, orgId: string, platformId: string, fault: FaultCode | null, day: string): Promise<Policy[]> {
  const standing = await listPolicies(tx, orgId, platformId, fault, day);
  return standing.filter(({ since }) => since <= day);
}

export async function findPolicy(tx: Tx, orgId: string, id: string): Promise<Policy | null> {
  const { rows } = await tx.query<Policy>({
    name: 'policies.find',
    text: `select ${COLUMNS} from policy where org_id = $1 and id = $2 for update`,
    values: [orgId, id],
  });
  return rows[0] ?? null;
}

export async function endPolicy(tx: Tx, orgId: string, id: string, day: string): Promise<void> {
  await tx.query({
    name: 'policies.end',
    text: 'update policy set ended_on = greatest(since, $3::date) where org_id = $1 and id = $2',
    values: [orgId, id, day],
  });
}
