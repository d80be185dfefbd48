import type { Delivery, DeliveryAttempt, EventKind, Webhook } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';

const WEBHOOK = `id, version, url, kinds, enabled, disabled_why as "disabledWhy", previous_until as "previousSecretUntil", created_at as "createdAt",
  updated_at as "updatedAt"`;

/** An address with its secrets, sealed. */
export interface WebhookRow extends Webhook {
  readonly secret: Buffer;
  readonly previousSecret: Buffer | null;
}

export async function insertWebhook(
  tx: Tx,
  orgId: string,
  id: string,
  url: string,
  kinds: readonly EventKind[],
  secret: Buffer,
  at: Date,
): Promise<Webhook> {
  const { rows } = await tx.query<Webhook>({
    name: 'webhooks.insert',
    text: `insert into webhook (org_id, id, version, url, kinds, enabled, secret, created_at, updated_at) values ($1, $2, 1, $3, $4, true, $5, $6, $6)
           returning ${WEBHOOK}`,
    values: [orgId, id, url, kinds, secret, at.toISOString()],
  });
  return rows[0]!;
}

export async function listWebhooks(tx: Tx, orgId: string): Promise<Webhook[]> {
  const { rows } = await tx.query<Webhook>({
    name: 'webhooks.list',
    text: `select ${WEBHOOK} from webhook where org_id = $1 order by id desc limit 200`,
    values: [orgId],
  });
  return rows;
}

export async function lockWebhook(tx: Tx, orgId: string, id: string): Promise<WebhookRow | null> {
  const { rows } = await tx.query<WebhookRow>({
    name: 'webhooks.lock',
    text: `select ${WEBHOOK}, secret, previous_secret as "previousSecret" from webhook where org_id = $1 and id = $2 for update`,
    values: [orgId, id],
  });
  return rows[0] ?? null;
}

export async function updateWebhook(
  tx: Tx,
  orgId: string,
  id: string,
  change: Pick<WebhookRow, 'enabled' | 'disabledWhy' | 'secret' | 'previousSecret' | 'previousSecretUntil'>,
  at: Date,
): Promise<Webhook> {
  const { rows } = await tx.query<Webhook>({
    name: 'webhooks.update',
    text: `update webhook set version = version + 1, enabled = $3, disabled_why = $4, secret = $5, previous_secret = $6, previous_until = $7, updated_at = $8
            where org_id = $1 and id = $2 returning ${WEBHOOK}`,
    values: [
      orgId,
      id,
      change.enabled,
      change.disabledWhy,
      change.secret,
      change.previousSecret,
      change.previousSecretUntil,
      at.toISOString(),
    ],
  });
  return rows[0]!;
}

export async function deleteWebhook(tx: Tx, orgId: string, id: string): Promise<boolean> {
  const { rowCount } = await tx.query({
    name: 'webhooks.delete',
    text: 'delete from webhook where org_id = $1 and id = $2',
    values: [orgId, id],
  });
  return rowCount > 0;
}

export interface StoredEvent {
  readonly id: string;
  readonly position: number;
  readonly kind: EventKind;
  readonly subjectId: string;
  readonly body: Record<string, unknown>;
  readonly createdAt: string;
}
const EVENT = `id, position, kind, subject_id as "subjectId", body, created_at as "createdAt"`;

/**
 * Gives events that were committed since the last look their place in the stream. One reader at a time does it, so that a place, once it can be
 * seen, never gets a neighbour below it.
 */
export async function placeEvents(tx: Tx, orgId: string, limit: number): Promise<StoredEvent[]> {
  await tx.query({ name: 'events.lock-stream', text: 'select pg_advisory_xact_lock(hashtextextended($1, 2))', values: [orgId] });
  const { rows } = await tx.query<StoredEvent>({
    name: 'events.place',
    text: `update outbox_event e set position = fresh.position
             from (select o.id, row_number() over (order by o.id) + coalesce((select max(m.position) from outbox_event m where m.org_id = $1), 0) as position
                     from outbox_event o where o.org_id = $1 and o.position is null order by o.id limit $2) fresh
            where e.org_id = $1 and e.id = fresh.id
           returning e.id, e.position, e.kind, e.subject_id as "subjectId", e.body, e.created_at as "createdAt"`,
    values: [orgId, limit],
  });
  return rows.sort((a, b) => a.position - b.position);
}

export async function hasUnplaced(tx: Tx, orgId: string): Promise<boolean> {
  const { rows } = await tx.query<{ found: boolean }>({
    name: 'events.has-unplaced',
    text: 'select exists (select from outbox_event where org_id = $1 and position is null) as found',
    values: [orgId],
  });
  return rows[0]!.found;
}

export async function eventsAfter(tx: Tx, orgId: string, position: number, limit: number): Promise<StoredEvent[]> {
  const { rows } = await tx.query<StoredEvent>({
    name: 'events.after',
    text: `select ${EVENT} from outbox_event where org_id = $1 and position > $2 order by position limit $3`,
    values: [orgId, position, limit],
  });
  return rows;
}

export async function lastPosition(tx: Tx, orgId: string): Promise<number> {
  const { rows } = await tx.query<{ last: number }>({
    name: 'events.last-position',
    text: 'select coalesce(max(position), 0) as last from outbox_event where org_id = $1',
    values: [orgId],
  });
  return rows[0]!.last;
}

export async function findEvent(tx: Tx, orgId: string, id: string): Promise<StoredEvent | null> {
  const { rows } = await tx.query<StoredEvent>({
    name: 'events.find',
    text: `select ${EVENT} from outbox_event where org_id = $1 and id = $2`,
    values: [orgId, id],
  });
  return rows[0] ?? null;
}

const DELIVERY = `id, webhook_id as "webhookId", event_id as "eventId", kind, subject_id as "subjectId", state, attempts, next_at as "nextAt", log,
  created_at as "createdAt", delivered_at as "deliveredAt"`;

export interface DeliveryRow extends Delivery {
  readonly position: number;
  readonly leasedUntil: string | null;
}

export async function insertDelivery(tx: Tx, orgId: string, id: string, webhookId: string, event: StoredEvent, at: Date): Promise<void> {
  await tx.query({
    name: 'webhooks.insert-delivery',
    text: `insert into webhook_delivery (org_id, id, webhook_id, event_id, subject_id, kind, position, state, attempts, next_at, log, created_at)
           values ($1, $2, $3, $4, $5, $6, $7, 'waiting', 0, $8, '[]', $8)
           on conflict (org_id, webhook_id, event_id) do nothing`,
    values: [orgId, id, webhookId, event.id, event.subjectId, event.kind, event.position, at.toISOString()],
  });
}

export async function lockDelivery(tx: Tx, orgId: string, id: string): Promise<DeliveryRow | null> {
  const { rows } = await tx.query<DeliveryRow>({
    name: 'webhooks.lock-delivery',
    text: `select ${DELIVERY}, position, leased_until as "leasedUntil" from webhook_delivery where org_id = $1 and id = $2 for update`,
    values: [orgId, id],
  });
  return rows[0] ?? null;
}

/** The first delivery to an address about one subject that is still waiting: the only one that may be sent. */
export async function firstWaiting(
  tx: Tx,
  orgId: string,
  webhookId: string,
  subjectId: string,
): Promise<{ id: string; position: number } | null> {
  const { rows } = await tx.query<{ id: string; position: number }>({
    name: 'webhooks.first-waiting',
    text: `select id, position from webhook_delivery where org_id = $1 and webhook_id = $2 and subject_id = $3 and state = 'waiting'
            order by position limit 1`,
    values: [orgId, webhookId, subjectId],
  });
  return rows[0] ?? null;
}

/**
 * The first delivery still waiting to the same address about the same subject, itself included, locked. Where an earlier one is just being written down, waits for
 * how that ends: whoever does so may have looked for what follows before this one was there.
 */
export async function lockFirstWaiting(tx: Tx, orgId: string, id: string): Promise<string | null> {
  const { rows } = await tx.query<{ id: string }>({
    name: 'webhooks.lock-first-waiting',
    text: `select id from webhook_delivery
            where org_id = $1 and state = 'waiting'
              and (webhook_id, subject_id) = (select webhook_id, subject_id from webhook_delivery where org_id = $1 and id = $2)
            order by position limit 1 for update`,
    values: [orgId, id],
  });
  return rows[0]?.id ?? null;
}

export async function updateDelivery(
  tx: Tx,
  orgId: string,
  id: string,
  change: {
    state: Delivery['state'];
    attempts: number;
    nextAt: string | null;
    leasedUntil: string | null;
    log: readonly DeliveryAttempt[];
    deliveredAt: string | null;
  },
): Promise<Delivery> {
  const { rows } = await tx.query<Delivery>({
    name: 'webhooks.update-delivery',
    text: `update webhook_delivery set state = $3, attempts = $4, next_at = $5, leased_until = $6, log = $7, delivered_at = $8
            where org_id = $1 and id = $2 returning ${DELIVERY}`,
    values: [orgId, id, change.state, change.attempts, change.nextAt, change.leasedUntil, JSON.stringify(change.log), change.deliveredAt],
  });
  return rows[0]!;
}

/** Gives up everything that waits for an address that wants no more. */
export async function giveUpWaiting(tx: Tx, orgId: string, webhookId: string): Promise<void> {
  await tx.query({
    name: 'webhooks.give-up-waiting',
    text: `update webhook_delivery set state = 'given-up', next_at = null where org_id = $1 and webhook_id = $2 and state = 'waiting'`,
    values: [orgId, webhookId],
  });
}

export async function listDeliveries(
  tx: Tx,
  orgId: string,
  webhookId: string,
  after: readonly string[] | null,
  limit: number,
): Promise<Delivery[]> {
  const { rows } = await tx.query<Delivery>({
    name: 'webhooks.list-deliveries',
    text: `select ${DELIVERY} from webhook_delivery
            where org_id = $1 and webhook_id = $2 and ($3::timestamptz is null or (created_at, id) < ($3::timestamptz, $4::uuid))
            order by created_at desc, id desc limit $5`,
    values: [orgId, webhookId, after?.[0] ?? null, after?.[1] ?? null, limit],
  });
  return rows;
}
