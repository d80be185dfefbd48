import { z } from 'zod';
import { Id, Instant } from './text.js';

export const EVENT_KINDS = [
  'case.opened',
  'case.diagnosed',
  'case.repaired',
  'case.returned',
  'import.finished',
  'pattern.found',
  'watch.alarmed',
  'vehicle.deleted',
] as const;
export const EventKind = z.enum(EVENT_KINDS).meta({ id: 'EventKind' });
export type EventKind = z.infer<typeof EventKind>;

export const NewWebhook = z
  .strictObject({
    url: z.url({ protocol: /^https?$/, message: 'must be an http or https address' }).max(500),
    kinds: z.array(EventKind).max(EVENT_KINDS.length).describe('What to be told of; all when empty'),
  })
  .meta({ id: 'NewWebhook' });
export type NewWebhook = z.infer<typeof NewWebhook>;

export const Webhook = z
  .strictObject({
    id: Id,
    version: z.int(),
    url: z.string(),
    kinds: z.array(EventKind),
    enabled: z.boolean(),
    disabledWhy: z.string().nullable(),
    previousSecretUntil: Instant.nullable().describe('Until then deliveries carry a signature of the secret before, too'),
    createdAt: Instant,
    updatedAt: Instant,
  })
  .meta({ id: 'Webhook' });
export type Webhook = z.infer<typeof Webhook>;

export const IssuedWebhook = z
  .strictObject({ webhook: Webhook, secret: z.string().describe('Signing secret (whsec_…), shown this once') })
  .meta({ id: 'IssuedWebhook' });
export type IssuedWebhook = z.infer<typeof IssuedWebhook>;

export const DeliveryState = z.enum(['waiting', 'delivered', 'given-up']).meta({ id: 'DeliveryState' });
export const DeliveryAttempt = z
  .strictObject({ at: Instant, status: z.int().nullable(), error: z.string().nullable(), tookMs: z.int() })
  .meta({ id: 'DeliveryAttempt' });
export type DeliveryAttempt = z.infer<typeof DeliveryAttempt>;
export const Delivery = z
  .strictObject({
    id: Id,
    webhookId: Id,
    eventId: Id.describe('The webhook-id header: the same over all tries'),
    kind: EventKind,
    subjectId: Id,
    state: DeliveryState,
    attempts: z.int(),
    nextAt: Instant.nullable(),
    log: z.array(DeliveryAttempt).describe('Tries, oldest first'),
    createdAt: Instant,
    deliveredAt: Instant.nullable(),
  })
  .meta({ id: 'Delivery', description: 'One event for one address.' });
export type Delivery = z.infer<typeof Delivery>;

export const WebhookList = z.strictObject({ data: z.array(Webhook) }).meta({ id: 'WebhookList' });
export const DeliveryPage = z.strictObject({ data: z.array(Delivery), next: z.string().nullable() }).meta({ id: 'DeliveryPage' });
/** What was deleted. */
export const Deleted = z.strictObject({ id: Id }).meta({ id: 'Deleted' });
export type Deleted = z.infer<typeof Deleted>;

/** What a receiver gets, and what the stream carries. */
export const EventMessage = z
  .strictObject({
    type: EventKind,
    timestamp: Instant,
    data: z.record(z.string(), z.unknown()),
  })
  .meta({ id: 'EventMessage' });
export type EventMessage = z.infer<typeof EventMessage>;
