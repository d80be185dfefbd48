import { v7 as uuidv7 } from 'uuid';
import type { Tx } from '#libs/database/index.js';

/** What the outside may be told of. Bodies hold identifiers and codes, never personal data. */
export type EventKind = 'case.opened' | 'case.diagnosed' | 'case.repaired' | 'case.returned';

/** Writes an event into the transaction of the change it tells of, so that neither exists without the other. */
export async function appendEvent(
  tx: Tx,
  orgId: string,
  at: Date,
  kind: EventKind,
  subjectId: string,
  body: Record<string, unknown>,
): Promise<void> {
  await tx.query({
    name: 'events.append',
    text: 'insert into outbox_event (org_id, id, kind, subject_id, body, created_at) values ($1, $2, $3, $4, $5, $6)',
    values: [orgId, uuidv7(), kind, subjectId, JSON.stringify(body), at.toISOString()],
  });
}
