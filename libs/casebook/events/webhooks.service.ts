import { v7 as uuidv7 } from 'uuid';
import {
  type Delivery,
  type IssuedWebhook,
  instantText,
  type NewWebhook,
  type Page,
  type PageInput,
  type Webhook,
} from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import type { Actor } from '../access/actor.js';
import { appendAudit } from '../audit/audit.queries.js';
import type { CasebookContext } from '../context.js';
import { DEFAULT_PAGE, decodeCursor, filterHash, toPage } from '../paging.js';
import type { TasksService } from '../tasks/tasks.service.js';
import { seal } from '../vehicles/identity-hash.js';
import { keyFor, organisationKey } from '../vehicles/organisation-key.js';
import { DELIVER_JOB } from './jobs.js';
import { PUBLIC_ONLY, refusalOf } from './send.js';
import { newSecret } from './signature.js';
import { DeliveryNotFound, TargetRefused, WebhookNotFound } from './webhooks.errors.js';
import {
  deleteWebhook,
  insertWebhook,
  listDeliveries,
  listWebhooks,
  lockDelivery,
  lockWebhook,
  updateDelivery,
  updateWebhook,
  type WebhookRow,
} from './webhooks.queries.js';
import { requireAll } from './whole-organisation.js';

/** How long the secret before is still signed with, so that a receiver can change over. */
const OVERLAP_MS = 24 * 3_600_000;

/** Addresses that are told of events, and what became of each delivery. */
export class WebhooksService {
  constructor(
    private readonly context: CasebookContext,
    private readonly tasks: TasksService,
  ) {}

  /** @throws TargetRefused when the address cannot be one of the public internet. */
  async createWebhook(actor: Actor, input: NewWebhook): Promise<IssuedWebhook> {
    requireAll(actor, 'webhooks:write');
    const refused = refusalOf(input.url, this.context.webhookTargets ?? PUBLIC_ONLY);
    if (refused) throw new TargetRefused(refused);
    return this.context.inTenant(actor.orgId, async (tx) => {
      const at = this.context.clock();
      const secret = newSecret();
      const kinds = [...new Set(input.kinds)];
      const webhook = await insertWebhook(tx, actor.orgId, uuidv7(), input.url, kinds, await this.sealed(tx, actor.orgId, secret), at);
      await appendAudit(tx, actor, at, 'webhook.created', { type: 'webhook', id: webhook.id }, { kinds });
      return { webhook, secret };
    });
  }

  async listWebhooks(actor: Actor): Promise<Webhook[]> {
    requireAll(actor, 'webhooks:read');
    return this.context.inTenant(actor.orgId, (tx) => listWebhooks(tx, actor.orgId));
  }

  /** A new secret. For a day deliveries carry a signature of the old one, too. */
  async rotateSecret(actor: Actor, id: string): Promise<IssuedWebhook> {
    requireAll(actor, 'webhooks:write');
    return this.context.inTenant(actor.orgId, async (tx) => {
      const stored = await this.stored(tx, actor, id);
      const at = this.context.clock();
      const secret = newSecret();
      const webhook = await updateWebhook(
        tx,
        actor.orgId,
        id,
        {
          ...stored,
          secret: await this.sealed(tx, actor.orgId, secret),
          previousSecret: stored.secret,
          previousSecretUntil: instantText(new Date(at.getTime() + OVERLAP_MS)),
        },
        at,
      );
      await appendAudit(tx, actor, at, 'webhook.secret-rotated', { type: 'webhook', id });
      return { webhook, secret };
    });
  }

  /** Lets an address that was disabled be told again, of what happens from now on. */
  async enableWebhook(actor: Actor, id: string): Promise<Webhook> {
    requireAll(actor, 'webhooks:write');
    return this.context.inTenant(actor.orgId, async (tx) => {
      const stored = await this.stored(tx, actor, id);
      const at = this.context.clock();
      await appendAudit(tx, actor, at, 'webhook.enabled', { type: 'webhook', id });
      return updateWebhook(tx, actor.orgId, id, { ...stored, enabled: true, disabledWhy: null }, at);
    });
  }

  async deleteWebhook(actor: Actor, id: string): Promise<void> {
    requireAll(actor, 'webhooks:write');
    await this.context.inTenant(actor.orgId, async (tx) => {
      if (!(await deleteWebhook(tx, actor.orgId, id))) throw new WebhookNotFound(id);
      await appendAudit(tx, actor, this.context.clock(), 'webhook.deleted', { type: 'webhook', id });
    });
  }

  /** The delivery log, newest first. */
  async listDeliveries(actor: Actor, webhookId: string, page: PageInput): Promise<Page<Delivery>> {
    requireAll(actor, 'webhooks:read');
    const first = page.first ?? DEFAULT_PAGE;
    const hash = filterHash({ list: 'deliveries', webhookId });
    const after = decodeCursor(page.after, hash, 2);
    return this.context.inTenant(actor.orgId, async (tx) => {
      await this.stored(tx, actor, webhookId);
      const rows = await listDeliveries(tx, actor.orgId, webhookId, after, first + 1);
      return toPage(rows, first, hash, (row) => [row.createdAt, row.id]);
    });
  }

  /** Sends an event to its address once more, with the same webhook-id. */
  async replayDelivery(actor: Actor, webhookId: string, id: string): Promise<Delivery> {
    requireAll(actor, 'webhooks:write');
    return this.context.inTenant(actor.orgId, async (tx) => {
      await this.stored(tx, actor, webhookId);
      const stored = await lockDelivery(tx, actor.orgId, id);
      if (stored?.webhookId !== webhookId) throw new DeliveryNotFound(id);
      const at = this.context.clock();
      const replayed = await updateDelivery(tx, actor.orgId, id, {
        ...stored,
        state: 'waiting',
        attempts: 0,
        nextAt: instantText(at),
        leasedUntil: null,
        deliveredAt: null,
      });
      await appendAudit(tx, actor, at, 'webhook.replayed', { type: 'delivery', id });
      await this.tasks.callJob(tx, actor.orgId, DELIVER_JOB, id);
      return replayed;
    });
  }

  private async stored(tx: Tx, actor: Actor, id: string): Promise<WebhookRow> {
    const stored = await lockWebhook(tx, actor.orgId, id);
    if (!stored) throw new WebhookNotFound(id);
    return stored;
  }

  private async sealed(tx: Tx, orgId: string, secret: string): Promise<Buffer> {
    return seal(Buffer.from(secret), keyFor('webhook secrets', await organisationKey(this.context, tx, orgId)));
  }
}
