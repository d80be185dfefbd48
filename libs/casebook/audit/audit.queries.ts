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
    text: `insert into audit_event (org_id, id, at, credential_id, action, subject_type, subject_id, request_id, change)
           values ($1, $2, $3, $4, $5, $6, $7, $8, $9)`,
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
    ],
  });
}

export async function listAudit(
  tx: Tx,
  orgId: string,
  after: string | null,
  limit: number,
  subjectId: string | null,
): Promise<AuditEvent[]> {
  const { rows } = await tx.query<AuditEvent>({
    name: 'audit.list',
    text: `select id, at, credential_id as "credentialId", action, subject_type as "subjectType", subject_id as "subjectId",
                  request_id as "requestId", change::text as change
             from audit_event
            where org_id = $1 and ($2::uuid is null or id < $2) and ($4::uuid is null or subject_id = $4)
            order by id desc
            limit $3`,
    values: [orgId, after, limit, subjectId],
  });
  return rows;
}
