import type { AuditEvent } from '#libs/contracts/index.js';
import { jsonbArray, type Tx, textArray, uuidArray } from '#libs/database/index.js';
import type { Actor } from '../access/actor.js';
import { newId } from '../ids.js';

export interface AuditLine {
  readonly action: string;
  readonly subject: { readonly type: string; readonly id: string };
  /** Identifiers and plain values, never VIN, plate or owner. */
  readonly change?: Record<string, unknown>;
}

/** Appends one line to the audit trail. */
export async function appendAudit(
  tx: Tx,
  actor: Actor,
  at: Date,
  action: string,
  subject: AuditLine['subject'],
  change: Record<string, unknown> = {},
): Promise<void> {
  await appendAuditLines(tx, actor, at, [{ action, subject, change }]);
}

/** Appends lines to the audit trail, in their order. */
export async function appendAuditLines(tx: Tx, actor: Actor, at: Date, lines: readonly AuditLine[]): Promise<void> {
  if (lines.length === 0) return;
  await tx.query({
    name: 'audit.append',
    text: `insert into audit_event (org_id, at, credential_id, request_id, member_id, id, action, subject_type, subject_id, change)
           select $1, $2, $3, $4, $5, id, action, subject_type, subject_id, change
             from unnest($6::uuid[], $7::text[], $8::text[], $9::uuid[], $10::jsonb[]) as line(id, action, subject_type, subject_id, change)`,
    values: [
      actor.orgId,
      at.toISOString(),
      actor.credentialId,
      actor.requestId,
      actor.memberId ?? null,
      uuidArray(lines.map(() => newId())),
      textArray(lines.map(({ action }) => action)),
      textArray(lines.map(({ subject }) => subject.type)),
      uuidArray(lines.map(({ subject }) => subject.id)),
      jsonbArray(lines.map(({ change }) => JSON.stringify(change ?? {}))),
    ],
  });
}

/** `shopIds` not null: what was done to these shops and their cases. */
export async function listAudit(
  tx: Tx,
  orgId: string,
  shopIds: readonly string[] | null,
  after: string | null,
  limit: number,
  subjectId: string | null,
): Promise<AuditEvent[]> {
  const { rows } = await tx.query<AuditEvent>({
    name: 'audit.list',
    text: `select id, at, credential_id as "credentialId", member_id as "memberId", action, subject_type as "subjectType", subject_id as "subjectId",
                  request_id as "requestId", change::text as change
             from audit_event
            where org_id = $1 and ($2::uuid is null or id < $2) and ($4::uuid is null or subject_id = $4)
              and ($5::uuid[] is null
                   or (subject_type = 'shop' and subject_id = any($5))
                   or (subject_type = 'case'
                       and subject_id in (select id from shop_case where org_id = $1 and shop_id = any($5))))
            order by id desc
            limit $3`,
    values: [orgId, after, limit, subjectId, shopIds],
  });
  return rows;
}

/** Identity of the last change in the organisation: while it stays the same, whatever was computed from the data stays true. Who comes and goes changes nothing. */
export async function lastChange(tx: Tx, orgId: string): Promise<string | null> {
  const { rows } = await tx.query<{ id: string }>({
    name: 'audit.last-change',
    text: `select id from audit_event where org_id = $1 and subject_type <> 'session' order by id desc limit 1`,
    values: [orgId],
  });
  return rows[0]?.id ?? null;
}
