import { Readable } from 'node:stream';
import type { FastifyReply } from 'fastify';

export interface StreamedEvent {
  readonly id?: string;
  readonly event: string;
  readonly data: unknown;
}

/** Answers with server-sent events; null is a sign of life. The generator is ended when the reader goes away. */
export function sendEvents(reply: FastifyReply, events: AsyncGenerator<StreamedEvent | null>): void {
  reply
    .header('content-type', 'text/event-stream; charset=utf-8')
    .header('x-accel-buffering', 'no')
    .send(Readable.from(written(events), { objectMode: false, highWaterMark: 16_384 }));
}

async function* written(events: AsyncGenerator<StreamedEvent | null>): AsyncGenerator<string> {
  yield ': connected\n\n';
  for await (const event of events) {
    yield event === null
      ? ': still here\n\n'
      : `${event.id === undefined ? '' : `id: ${event.id}\n`}event: ${event.event}\ndata: ${JSON.stringify(event.data)}\n\n`;
  }
}
