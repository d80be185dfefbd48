// Receives webhooks: verifies each with the standard's own library, answers at once, keeps identities so that nothing counts twice.
import { createServer, type Server } from 'node:http';
import { Webhook } from 'standardwebhooks';

interface CoolbackEvent {
  readonly type: string;
  readonly timestamp: string;
  readonly data: Readonly<Record<string, unknown>>;
}

/** A server for one webhook. `secret` is the `whsec_…` that creating it showed; `handle` gets each event once. */
export function receiver(secret: string, handle: (event: CoolbackEvent) => void): Server {
  const webhook = new Webhook(secret);
  const seen = new Set<string>();
  return createServer(async (request, reply) => {
    const parts: Buffer[] = [];
    for await (const part of request) parts.push(part as Buffer);
    const id = String(request.headers['webhook-id']);
    try {
      // The bytes as they came: JSON that was parsed and written again has another signature.
      const event = webhook.verify(Buffer.concat(parts), request.headers as Record<string, string>) as CoolbackEvent;
      if (!seen.has(id)) handle(event);
      seen.add(id);
      reply.writeHead(204).end();
    } catch {
      reply.writeHead(401).end();
    }
  });
}
