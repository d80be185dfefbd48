import { Mutation, Query, Resolver } from '@nestjs/graphql';
import { Deleted, Delivery, DeliveryPage, IssuedWebhook, NewWebhook, Webhook } from '#libs/contracts/index.js';
import { After, First, type GraphCall, GraphCaller, IdArg, Input } from '../graphql/arguments.js';
import { objectTypeOf } from '../graphql/derive.js';

const WebhookType = objectTypeOf(Webhook);
const IssuedWebhookType = objectTypeOf(IssuedWebhook);
const DeliveryType = objectTypeOf(Delivery);
const DeliveryPageType = objectTypeOf(DeliveryPage);
const DeletedType = objectTypeOf(Deleted);

@Resolver()
export class WebhooksResolver {
  @Query(() => [WebhookType])
  webhooks(@GraphCaller() call: GraphCall) {
    return call.casebook.webhooks.listWebhooks(call.actor);
  }

  @Query(() => DeliveryPageType)
  deliveries(@GraphCaller() call: GraphCall, @IdArg('webhookId') webhookId: string, @First() first?: number, @After() after?: string) {
    return call.casebook.webhooks.listDeliveries(call.actor, webhookId, { first, after });
  }

  @Mutation(() => IssuedWebhookType)
  createWebhook(@GraphCaller() call: GraphCall, @Input(NewWebhook) input: NewWebhook) {
    return call.casebook.webhooks.createWebhook(call.actor, input);
  }

  @Mutation(() => IssuedWebhookType)
  rotateWebhookSecret(@GraphCaller() call: GraphCall, @IdArg() id: string) {
    return call.casebook.webhooks.rotateSecret(call.actor, id);
  }

  @Mutation(() => WebhookType)
  enableWebhook(@GraphCaller() call: GraphCall, @IdArg() id: string) {
    return call.casebook.webhooks.enableWebhook(call.actor, id);
  }

  @Mutation(() => DeletedType)
  async deleteWebhook(@GraphCaller() call: GraphCall, @IdArg() id: string) {
    await call.casebook.webhooks.deleteWebhook(call.actor, id);
    return { id };
  }

  @Mutation(() => DeliveryType)
  replayDelivery(@GraphCaller() call: GraphCall, @IdArg('webhookId') webhookId: string, @IdArg() id: string) {
    return call.casebook.webhooks.replayDelivery(call.actor, webhookId, id);
  }
}
