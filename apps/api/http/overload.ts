import type { FastifyInstance } from 'fastify';
import { ServiceUnavailable } from './transport.errors.js';

/** Requests that may wait for each connection of the pool: at a few milliseconds a statement the last of them is still answered within a second. */
const WAITING_PER_CONNECTION = 64;

interface Queue {
  readonly waitingCount: number;
  readonly options: { readonly max: number };
}

/** Refuses at once what could only wait: a queue that grows makes everybody late, and those at its end are answered when nobody listens any more. */
export function shedLoad(fastify: FastifyInstance, pool: Queue): void {
  const most = pool.options.max * WAITING_PER_CONNECTION;
  fastify.addHook('onRequest', (request, _reply, done) => {
    if (pool.waitingCount < most || !/^\/(?:v1|graphql)\b/.test(request.url)) done();
    else done(new ServiceUnavailable('overloaded'));
  });
}
