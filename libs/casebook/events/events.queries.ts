import { v7 as uuidv7 } from 'uuid';
import type { EventKind } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';

/**
 * Writes an event into the transaction of the change it tells of, so that neither exists without the other. Bodies hold identifiers and codes,
 * never personal data. Where an address wants to be told, the worker is called in the same transaction.
 */
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
    text: `with event as (
             insert into outbox_event (org_id, id, kind, subject_id, body, created_at) values ($1, $2, $3, $4, $5, $6) returning id
           )
           select enqueue('events.fan-out', $1, event.id) from event where exists (select from webhook where org_id = $1 and enabled)`,
    values: [orgId, uuidv7(), kind, subjectId, JSON.stringify(body), at.toISOString()],
  });
}
