import { v7 as uuidv7 } from 'uuid';
import type { AuditEvent } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import type { Actor } from '../access/actor.js';

/** Appends one line to the audit trail. `change` holds identifiers and plain values, never VIN, plate or owner. */
export async function appendAudit(
  tx: Tx,
  actor: Actor,
  at: Date,
  action: string,
  subject: { readonly type: string; readonly id: string },
  change: Record<string, unknown> = {},
): Promise<void> {
  await tx.query({
    name: 'audit.append',
    text: `insert into audit_event (org_id, id, at, credential_id, action, subject_type, subject_id, request_id, change, member_id)
           values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)`,
    values: [
      actor.orgId,
      uuidv7(),
      at.toISOString(),
      actor.credentialId,
      action,
      subject.type,
      subject.id,
      actor.requestId,
      JSON.stringify(change),
      actor.memberId ?? null,
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
