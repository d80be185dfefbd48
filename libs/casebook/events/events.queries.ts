import type { EventKind } from '#libs/contracts/index.js';
import { jsonbArray, type Tx, textArray, uuidArray } from '#libs/database/index.js';
import { newId } from '../ids.js';

export interface OutboxLine {
  readonly kind: EventKind;
  readonly subjectId: string;
  readonly body: Record<string, unknown>;
}

export async function appendEvent(
  tx: Tx,
  orgId: string,
  at: Date,
  kind: EventKind,
  subjectId: string,
  body: Record<string, unknown>,
): Promise<void> {
  await appendEvents(tx, orgId, at, [{ kind, subjectId, body }]);
}

/**
 * Writes events into the transaction of the change they tell of, so that neither exists without the other. Bodies hold identifiers and codes,
 * never personal data. Where an address wants to be told, the worker is called in the same transaction, once for all of them.
 */
export async function appendEvents(tx: Tx, orgId: string, at: Date, lines: readonly OutboxLine[]): Promise<void> {
  if (lines.length === 0) return;
  await tx.query({
    name: 'events.append',
    text: `with event as (
             insert into outbox_event (org_id, created_at, id, kind, subject_id, body)
             select $1, $2, id, kind, subject_id, body from unnest($3::uuid[], $4::text[], $5::uuid[], $6::jsonb[]) as line(id, kind, subject_id, body)
             returning id
           )
           select enqueue('events.fan-out', $1, last.id) from (select id from event order by id desc limit 1) as last
            where exists (select from webhook where org_id = $1 and enabled)`,
    values: [
      orgId,
      at.toISOString(),
      uuidArray(lines.map(() => newId())),
      textArray(lines.map(({ kind }) => kind)),
      uuidArray(lines.map(({ subjectId }) => subjectId)),
      jsonbArray(lines.map(({ body }) => JSON.stringify(body))),
    ],
  });
}
