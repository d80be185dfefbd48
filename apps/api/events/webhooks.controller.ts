import { Body, Controller, Delete, Get, HttpCode, Param, Post, Query } from '@nestjs/common';
import { Deleted, Delivery, DeliveryPage, Id, IssuedWebhook, NewWebhook, PageInput, Webhook, WebhookList } from '#libs/contracts/index.js';
import { Call, Caller } from '../http/call.js';
import { Operation } from '../http/operation.js';
import { NEW_WEBHOOK_EXAMPLE } from './webhooks.examples.js';

const byId = { id: Id };

@Controller('v1/webhooks')
export class WebhooksController {
  @Post()
  @Operation({
    id: 'createWebhook',
    secret: true,
    summary: 'Be told of events at an address of yours; the signing secret is shown this once',
    permission: 'webhooks:write',
    body: NewWebhook,
    reply: IssuedWebhook,
    status: 201,
    example: NEW_WEBHOOK_EXAMPLE,
  })
  createWebhook(@Caller() call: Call, @Body({ schema: NewWebhook }) body: NewWebhook) {
    // No Idempotency-Key: the stored answer would hold the secret.
    return call.casebook.webhooks.createWebhook(call.actor, body);
  }

  @Get()
  @Operation({ id: 'listWebhooks', summary: 'Addresses that are told of events', permission: 'webhooks:read', reply: WebhookList })
  async listWebhooks(@Caller() call: Call) {
    return { data: await call.casebook.webhooks.listWebhooks(call.actor) };
  }

  @Delete(':id')
  @Operation({ id: 'deleteWebhook', summary: 'Tell an address no more', permission: 'webhooks:write', params: byId, reply: Deleted })
  async deleteWebhook(@Caller() call: Call, @Param('id', { schema: Id }) id: string) {
    await call.casebook.webhooks.deleteWebhook(call.actor, id);
    return { id };
  }

  @Post(':id/rotation')
  @HttpCode(200)
  @Operation({
    id: 'rotateWebhookSecret',
    secret: true,
    summary: 'A new signing secret; for a day deliveries carry signatures of both',
    permission: 'webhooks:write',
    params: byId,
    reply: IssuedWebhook,
  })
  rotateSecret(@Caller() call: Call, @Param('id', { schema: Id }) id: string) {
    return call.casebook.webhooks.rotateSecret(call.actor, id);
  }

  @Post(':id/enabling')
  @HttpCode(200)
  @Operation({
    id: 'enableWebhook',
    summary: 'Tell a disabled address again, of what happens from now on',
    permission: 'webhooks:write',
    params: byId,
    reply: Webhook,
    creates: true,
  })
  enableWebhook(@Caller() call: Call, @Param('id', { schema: Id }) id: string) {
    return call.create(
      (casebook) => casebook.webhooks.enableWebhook(call.actor, id),
      ({ version }) => ({ status: 200, version }),
    );
  }

  @Get(':id/deliveries')
  @Operation({
    id: 'listDeliveries',
    summary: 'The delivery log, newest first',
    permission: 'webhooks:read',
    params: byId,
    query: PageInput,
    reply: DeliveryPage,
  })
  async listDeliveries(@Caller() call: Call, @Param('id', { schema: Id }) id: string, @Query({ schema: PageInput }) page: PageInput) {
    return call.paged(await call.casebook.webhooks.listDeliveries(call.actor, id, page));
  }

  @Post(':id/deliveries/:deliveryId/replay')
  @HttpCode(202)
  @Operation({
    id: 'replayDelivery',
    summary: 'Send an event once more, with the same webhook-id',
    permission: 'webhooks:write',
    params: { id: Id, deliveryId: Id },
    reply: Delivery,
    status: 202,
    creates: true,
  })
  replayDelivery(@Caller() call: Call, @Param('id', { schema: Id }) id: string, @Param('deliveryId', { schema: Id }) deliveryId: string) {
    return call.create(
      (casebook) => casebook.webhooks.replayDelivery(call.actor, id, deliveryId),
      () => ({ status: 202 }),
    );
  }
}
