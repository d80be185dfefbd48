import type { NewOutcomeRules } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import { COMMON_RULES, type StandingRules } from './outcome-rules.js';

/** The rules in force, as JSON; null where none were set. For statements that read something else with them. */
export const STANDING_RULES = `(select json_build_object('version', o.version, 'sameVisitDays', o.same_visit_days, 'lookBackDays', o.look_back_days,
  'presenceDays', o.presence_days) from outcome_rules o where o.org_id = $1 order by o.version desc limit 1)`;

export async function standingRules(tx: Tx, orgId: string): Promise<StandingRules> {
  const { rows } = await tx.query<{ rules: StandingRules | null }>({
    name: 'outcome-rules.standing',
    text: `select ${STANDING_RULES} as rules`,
    values: [orgId],
  });
  return rows[0]!.rules ?? COMMON_RULES;
}

/** When the rules in force were set; null where none were. */
export async function rulesSetAt(tx: Tx, orgId: string): Promise<string | null> {
  const { rows } = await tx.query<{ setAt: string }>({
    name: 'outcome-rules.set-at',
    text: 'select set_at as "setAt" from outcome_rules where org_id = $1 order by version desc limit 1',
    values: [orgId],
  });
  return rows[0]?.setAt ?? null;
}

/** Two that are set at the same moment wait for each other: each is a version of its own. */
export async function lockRules(tx: Tx, orgId: string): Promise<void> {
  await tx.query({
    name: 'outcome-rules.lock',
    text: 'select pg_advisory_xact_lock(hashtextextended($1, 0))',
    values: [`outcome rules ${orgId}`],
  });
}

export async function insertRules(tx: Tx, orgId: string, id: string, version: number, rules: NewOutcomeRules, at: Date): Promise<void> {
  await tx.query({
    name: 'outcome-rules.insert',
    text: `insert into outcome_rules (org_id, id, version, same_visit_days, look_back_days, presence_days, set_at) values ($1, $2, $3, $4, $5, $6, $7)`,
    values: [orgId, id, version, rules.sameVisitDays, rules.lookBackDays, rules.presenceDays, at.toISOString()],
  });
}
