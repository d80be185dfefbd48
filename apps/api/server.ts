import 'reflect-metadata';
import { randomUUID } from 'node:crypto';
import type { Socket } from 'node:net';
import { NestFactory } from '@nestjs/core';
import { FastifyAdapter, type NestFastifyApplication } from '@nestjs/platform-fastify';
import { type FastifyInstance, type FastifyReply, type FastifyRequest, LogController } from 'fastify';
import type { Casebook } from '#libs/casebook/index.js';
import { ApiModule, type ApiParts } from './api.module.js';
import { registerDocs } from './docs/docs.js';
import { Documents } from './graphql/documents.js';
import { registerGraphql } from './graphql/route.js';
import { rememberRoutes } from './http/allowed-methods.js';
import { limitBodyTime, REQUEST_MS } from './http/body-deadline.js';
import type { AuthenticatedRequest } from './http/call.js';
import { compressAnswers } from './http/compression.js';
import { acceptFiles } from './http/file-body.js';
import { Readiness } from './http/health.controller.js';
import { parseJsonBody } from './http/json-body.js';
import { loggerOptions } from './http/logging.js';
import { Metrics } from './http/metrics.js';
import { shedLoad } from './http/overload.js';
import { BODY_LIMIT } from './http/problem.filter.js';
import { sendProblem } from './http/problem.js';
import { RateLimit } from './http/rate-limit.js';
import { answerUnreadable } from './http/unreadable.js';

const SECURITY_HEADERS: Readonly<Record<string, string>> = {
  'x-content-type-options': 'nosniff',
  'referrer-policy': 'no-referrer',
  'cross-origin-opener-policy': 'same-origin',
  'content-security-policy':
    "default-src 'self'; img-src 'self' data: blob:; style-src 'self' 'unsafe-inline'; script-src 'self'; connect-src 'self'; frame-ancestors 'none'; base-uri 'none'",
};

/**
 * Fastify with our own error handler, set before any route exists: what fails before a route is reached (a body that cannot be read, a key
 * that GraphQL refuses) is a problem document too. Nest would set its handler after the routes, when it no longer reaches them.
 */
class ProblemAdapter extends FastifyAdapter {
  override setErrorHandler() {
    return this.getInstance() as never;
  }
}

/** The HTTP server, ready to listen. Limits on everything that comes in: Fastify's own defaults have none on time. */
export async function createServer(parts: ApiParts & { readonly logLevel: string }): Promise<NestFastifyApplication> {
  const served = { bodyLimit: BODY_LIMIT, publicUrl: parts.publicUrl ?? null };
  const adapter = new ProblemAdapter({
    logger: parts.logLevel === 'silent' ? false : loggerOptions(parts.logLevel),
    bodyLimit: BODY_LIMIT,
    requestTimeout: REQUEST_MS,
    connectionTimeout: 60_000,
    keepAliveTimeout: 72_000,
    genReqId: (request: { headers: Record<string, unknown> }) => traceOf(request.headers['traceparent']) ?? randomUUID(),
    routerOptions: { maxParamLength: 200 },
    clientErrorHandler: answerUnreadable,
    frameworkErrors: (error: Error, request: FastifyRequest, reply: FastifyReply) => sendProblem(reply, request, error, served),
    forceCloseConnections: 'idle',
    logController: new LogController({ disableRequestLogging: true }),
    // One logger for all: lines that belong to a request name it themselves (`problem.ts`); a logger for each would be made and thrown away.
    childLoggerFactory: (logger: unknown) => logger,
  } as never);
  const fastify = adapter.getInstance<FastifyInstance>();
  rememberRoutes(fastify);
  shedLoad(fastify, parts.pool);
  limitBodyTime(fastify, (url) => url.startsWith('/v1/imports'));
  fastify.addHttpMethod('QUERY', { hasBody: true, overrideExisting: true } as { hasBody: boolean });
  // Hooks with a callback: a promise for each would cost every request two turns of the queue.
  fastify.addHook('onRequest', (request, reply, done) => {
    reply.headers(SECURITY_HEADERS);
    reply.header('x-request-id', request.id);
    if (request.url.startsWith('/v1') || request.url.startsWith('/graphql')) reply.header('cache-control', 'no-store');
    done();
  });
  fastify.addHook('onSend', (request, reply, payload, done) => {
    const asked = request.headers['if-none-match'];
    if (asked !== undefined && request.method === 'GET' && reply.statusCode === 200 && reply.getHeader('etag') === asked) {
      reply.code(304);
      done(null, '');
    } else done(null, payload);
  });
  compressAnswers(fastify);
  closeUnusedWithServer(fastify);
  countUsage(fastify, parts.casebook, parts.usageEveryMs ?? null);
  if (parts.readsAhead) readAhead(fastify, parts.casebook);
  const app = await NestFactory.create<NestFastifyApplication>(ApiModule.over(parts), adapter, {
    logger: ['error', 'warn'],
    bodyParser: false,
  });
  fastify.removeContentTypeParser(['application/json', 'text/plain']);
  for (const type of ['application/json', 'application/merge-patch+json']) {
    fastify.addContentTypeParser(
      type,
      { parseAs: 'buffer' },
      (_request: unknown, body: Buffer, done: (error: Error | null, value?: unknown) => void) => {
        try {
          done(null, body.length === 0 ? undefined : parseJsonBody(body));
        } catch (error) {
          done(error as Error);
        }
      },
    );
  }
  acceptFiles(fastify);
  fastify.setErrorHandler((error, request, reply) => sendProblem(reply, request, error, served));
  app.get(Metrics).watch(fastify);
  registerDocs(fastify, parts);
  registerGraphql(fastify, {
    casebook: parts.casebook,
    rateLimit: app.get(RateLimit),
    documents: app.get(Documents),
    metrics: app.get(Metrics),
    publicUrl: parts.publicUrl ?? null,
  });
  await app.init();
  await fastify.ready();
  return app;
}

/**
 * Connections on which no request was ever begun end with the server. Node counts them as busy until the time for a request is up, and browsers
 * open such connections in advance: an orderly end would wait for them.
 */
function closeUnusedWithServer(fastify: FastifyInstance): void {
  const unused = new Set<Socket>();
  fastify.server.on('connection', (socket: Socket) => {
    unused.add(socket);
    socket.once('close', () => unused.delete(socket));
  });
  fastify.server.on('request', ({ socket }: { socket: Socket }) => unused.delete(socket));
  fastify.addHook('preClose', async () => {
    for (const socket of unused) socket.destroy();
  });
}

/** Counts each answered request for whoever asked, and has the counts written down every so often and when the server ends. */
function countUsage(fastify: FastifyInstance, casebook: Casebook, everyMs: number | null): void {
  fastify.addHook('onResponse', (request, reply, done) => {
    const { askedBy } = request as AuthenticatedRequest;
    if (askedBy) casebook.usage.count(askedBy, reply.statusCode >= 400);
    done();
  });
  const writeDown = () => casebook.usage.writeDown().catch((error: unknown) => fastify.log.warn({ err: error }, 'use of keys'));
  const timer = everyMs === null ? undefined : setInterval(writeDown, everyMs).unref();
  fastify.addHook('onClose', async () => {
    clearInterval(timer);
    await writeDown();
  });
}

/** After the first request of an organisation what its next questions look through is read into memory, of one organisation after the other. */
function readAhead(fastify: FastifyInstance, casebook: Casebook): void {
  const begun = new Set<string>();
  let last: Promise<void> = Promise.resolve();
  fastify.addHook('onResponse', (request, _reply, done) => {
    const orgId = (request as AuthenticatedRequest).askedBy?.orgId;
    if (orgId !== undefined && !begun.has(orgId)) {
      begun.add(orgId);
      last = last
        .then(() => casebook.outcomes.readAhead(orgId))
        .then(() => casebook.history.readAhead(orgId))
        .catch((error: unknown) => fastify.log.warn({ err: error }, 'episodes and signatures were not read ahead'));
    }
    done();
  });
  fastify.addHook('onClose', () => last);
}

/** Says no to the readiness probe, lets running requests end, then closes. */
export async function drain(app: NestFastifyApplication): Promise<void> {
  app.get(Readiness).draining = true;
  await app.close();
}

/** The trace identity of a W3C `traceparent`, so that one request is one line across services. */
function traceOf(header: unknown): string | undefined {
  const match = typeof header === 'string' ? /^[\da-f]{2}-([\da-f]{32})-[\da-f]{16}-[\da-f]{2}$/.exec(header) : null;
  return match?.[1];
}
