import { Controller, Get, Headers, Inject, Query, Res } from '@nestjs/common';
import type { FastifyReply } from 'fastify';
import { z } from 'zod';
import { parseInput } from '#libs/casebook/index.js';
import { Call, Caller } from '../http/call.js';
import { type StreamedEvent, sendEvents } from '../http/event-stream.js';
import { Readiness } from '../http/health.controller.js';
import { Operation } from '../http/operation.js';

const EventPlace = z.coerce.number().int().min(0).max(Number.MAX_SAFE_INTEGER);
const StreamQuery = z.strictObject({
  after: EventPlace.optional().describe(
    'Place of the last event that was seen, where the header Last-Event-ID cannot be sent; 0 for the beginning',
  ),
});
type StreamQuery = z.infer<typeof StreamQuery>;

@Controller('v1/events')
export class EventsController {
  constructor(@Inject(Readiness) private readonly readiness: Readiness) {}

  @Get()
  @Operation({
    id: 'streamEvents',
    summary:
      'Events as they happen, as server-sent events, the data of each an EventMessage; Last-Event-ID goes on where a reader left off',
    permission: 'webhooks:read',
    query: StreamQuery,
    reply: z.string(),
    replyType: 'text/event-stream',
  })
  stream(
    @Caller() call: Call,
    @Query({ schema: StreamQuery }) { after }: StreamQuery,
    @Headers('last-event-id') lastEventId: string | undefined,
    @Res() reply: FastifyReply,
  ) {
    const place = lastEventId === undefined ? after : parseInput(EventPlace, lastEventId);
    sendEvents(reply, written(call.casebook.delivery.stream(call.actor, place ?? null, () => !this.readiness.draining)));
  }
}

async function* written(events: ReturnType<Call['casebook']['delivery']['stream']>): AsyncGenerator<StreamedEvent | null> {
  for await (const event of events)
    yield event === null ? null : { id: String(event.position), event: event.message.type, data: event.message };
}
