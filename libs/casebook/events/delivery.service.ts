import { setTimeout as sleep } from 'node:timers/promises';
import { v7 as uuidv7 } from 'uuid';
import { type DeliveryAttempt, type EventMessage, instantText } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import type { Actor } from '../access/actor.js';
import type { CasebookContext } from '../context.js';
import type { TasksService } from '../tasks/tasks.service.js';
import { unseal } from '../vehicles/identity-hash.js';
import { keyFor, organisationKey } from '../vehicles/organisation-key.js';
import { DELIVER_JOB } from './jobs.js';
import { nextTry, retryAfterMs } from './retry-schedule.js';
import { PUBLIC_ONLY, type Sent, send } from './send.js';
import { signedHeaders } from './signature.js';
import {
  type DeliveryRow,
  eventsAfter,
  findEvent,
  firstWaiting,
  giveUpWaiting,
  hasUnplaced,
  insertDelivery,
  lastPosition,
  listWebhooks,
  lockDelivery,
  lockFirstWaiting,
  lockWebhook,
  placeEvents,
  type StoredEvent,
  updateDelivery,
  updateWebhook,
  type WebhookRow,
} from './webhooks.queries.js';
import { requireAll } from './whole-organisation.js';

const PLACED_AT_ONCE = 500;
const LEASE_MS = 60_000;
const GONE = 410;
const POLL_MS = 400;

interface Due {
  readonly delivery: DeliveryRow;
  readonly webhook: WebhookRow;
  readonly event: StoredEvent;
  readonly secrets: readonly string[];
}

/** An event with its place in the organisation's stream. */
export interface PlacedMessage {
  readonly position: number;
  readonly message: EventMessage;
}

/** From committed events to addresses and readers of the stream: at least once, and about one case in order. */
export class DeliveryService {
  constructor(
    private readonly context: CasebookContext,
    private readonly tasks: TasksService,
  ) {}

  /** Gives new events their place and makes one delivery of each for every address that wants it. Called by the worker. */
  async fanOut(orgId: string): Promise<void> {
    for (;;) {
      const placed = await this.context.inTenant(orgId, (tx) => this.placeIn(tx, orgId));
      if (placed < PLACED_AT_ONCE) return;
    }
  }

  private async placeIn(tx: Tx, orgId: string): Promise<number> {
    const placed = await placeEvents(tx, orgId, PLACED_AT_ONCE);
    if (placed.length === 0) return 0;
    const at = this.context.clock();
    const webhooks = (await listWebhooks(tx, orgId)).filter((webhook) => webhook.enabled);
    for (const event of placed) {
      for (const webhook of webhooks.filter(({ kinds }) => kinds.length === 0 || kinds.includes(event.kind))) {
        const id = uuidv7();
        await insertDelivery(tx, orgId, id, webhook.id, event, at);
        await this.tasks.callJob(tx, orgId, DELIVER_JOB, id);
      }
    }
    return placed.length;
  }

  /** Tries one delivery if it is its turn. Safe to call at any time and more than once. */
  async deliver(orgId: string, id: string): Promise<void> {
    const due = await this.context.inTenant(orgId, (tx) => this.take(tx, orgId, id));
    if (!due) return;
    const { webhook, event } = due;
    const at = this.context.clock();
    const body = JSON.stringify(toMessage(event));
    const sent = await send(webhook.url, signedHeaders(event.id, at, body, due.secrets), body, this.context.webhookTargets ?? PUBLIC_ONLY);
    await this.context.inTenant(orgId, (tx) => this.record(tx, orgId, id, at, sent));
  }

  /** Takes the delivery for a while, if nothing stands before it: not a time to wait for, not an earlier event about the same subject. */
  private async take(tx: Tx, orgId: string, id: string): Promise<Due | null> {
    if ((await lockFirstWaiting(tx, orgId, id)) !== id) return null;
    const delivery = await lockDelivery(tx, orgId, id);
    if (delivery?.state !== 'waiting') return null;
    const now = this.context.clock();
    const notBefore = Math.max(...[delivery.nextAt, delivery.leasedUntil].map((text) => (text === null ? 0 : new Date(text).getTime())));
    if (notBefore > now.getTime()) {
      await this.tasks.callJob(tx, orgId, DELIVER_JOB, id, new Date(notBefore));
      return null;
    }
    const webhook = await lockWebhook(tx, orgId, delivery.webhookId);
    const event = await findEvent(tx, orgId, delivery.eventId);
    if (!webhook?.enabled || !event) {
      await updateDelivery(tx, orgId, id, { ...delivery, state: 'given-up', nextAt: null, leasedUntil: null });
      await this.wakeFollowing(tx, orgId, delivery);
      return null;
    }
    await updateDelivery(tx, orgId, id, { ...delivery, leasedUntil: instantText(new Date(now.getTime() + LEASE_MS)) });
    const key = keyFor('webhook secrets', await organisationKey(this.context, tx, orgId));
    const overlaps = webhook.previousSecret !== null && webhook.previousSecretUntil !== null && new Date(webhook.previousSecretUntil) > now;
    const sealed = overlaps ? [webhook.secret, webhook.previousSecret!] : [webhook.secret];
    return { delivery, webhook, event, secrets: sealed.map((one) => unseal(one, key).toString()) };
  }

  private async record(tx: Tx, orgId: string, id: string, at: Date, sent: Sent): Promise<void> {
    const delivery = await lockDelivery(tx, orgId, id);
    if (!delivery) return;
    const attempt: DeliveryAttempt = { at: instantText(at), status: sent.status, error: sent.error, tookMs: sent.tookMs };
    const log = [...delivery.log, attempt].slice(-30);
    const attempts = delivery.attempts + 1;
    const settled = { attempts, log, leasedUntil: null, nextAt: null };
    if (sent.error === null) {
      await updateDelivery(tx, orgId, id, { ...settled, state: 'delivered', deliveredAt: instantText(this.context.clock()) });
    } else if (sent.status === GONE) {
      await updateDelivery(tx, orgId, id, { ...settled, state: 'given-up', deliveredAt: null });
      await this.disable(tx, orgId, delivery.webhookId);
      return;
    } else {
      const next = nextTry(attempts, this.context.clock(), retryAfterMs(sent.retryAfter, at));
      if (next) {
        await updateDelivery(tx, orgId, id, { ...settled, state: 'waiting', nextAt: instantText(next), deliveredAt: null });
        await this.tasks.callJob(tx, orgId, DELIVER_JOB, id, next);
        return;
      }
      await updateDelivery(tx, orgId, id, { ...settled, state: 'given-up', deliveredAt: null });
    }
    await this.wakeFollowing(tx, orgId, delivery);
  }

  private async wakeFollowing(tx: Tx, orgId: string, { webhookId, subjectId }: DeliveryRow): Promise<void> {
    const following = await firstWaiting(tx, orgId, webhookId, subjectId);
    if (following) await this.tasks.callJob(tx, orgId, DELIVER_JOB, following.id);
  }

  private async disable(tx: Tx, orgId: string, webhookId: string): Promise<void> {
    const webhook = await lockWebhook(tx, orgId, webhookId);
    if (!webhook) return;
    const disabledWhy = 'The receiver answered 410 Gone.';
    await updateWebhook(tx, orgId, webhookId, { ...webhook, enabled: false, disabledWhy }, this.context.clock());
    await giveUpWaiting(tx, orgId, webhookId);
  }

  /**
   * The organisation's events in order, as they are committed: after a place a reader knows, or from now on; null as a sign of life.
   * A reader that comes back with the last place it saw misses nothing.
   */
  stream(actor: Actor, after: number | null, goesOn: () => boolean): AsyncGenerator<PlacedMessage | null> {
    requireAll(actor, 'webhooks:read');
    return this.follow(actor.orgId, after, goesOn);
  }

  private async *follow(orgId: string, after: number | null, goesOn: () => boolean): AsyncGenerator<PlacedMessage | null> {
    let position = after ?? (await this.placedTo(orgId));
    let quiet = 0;
    while (goesOn()) {
      if (await this.context.inTenant(orgId, (tx) => hasUnplaced(tx, orgId), { readOnly: true })) await this.fanOut(orgId);
      const events = await this.context.inTenant(orgId, (tx) => eventsAfter(tx, orgId, position, 200), { readOnly: true });
      for (const event of events) {
        position = event.position;
        yield { position, message: toMessage(event) };
      }
      if (events.length > 0) continue;
      if (++quiet % 35 === 0) yield null;
      await sleep(POLL_MS);
    }
  }

  private async placedTo(orgId: string): Promise<number> {
    await this.fanOut(orgId);
    return this.context.inTenant(orgId, (tx) => lastPosition(tx, orgId), { readOnly: true });
  }
}

const toMessage = (event: StoredEvent): EventMessage => ({ type: event.kind, timestamp: event.createdAt, data: event.body });
