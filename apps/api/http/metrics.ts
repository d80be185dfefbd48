import type { FastifyInstance } from 'fastify';
import { collectDefaultMetrics, Gauge, Histogram, Registry } from 'prom-client';
import type { Pool } from '#libs/database/index.js';

const SECONDS = [0.002, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 10];

/** Kinds of work that are told of when none waits too, so that an alarm on them has something to look at. */
const JOBS_ALWAYS = ['events.fan-out', 'webhooks.deliver', 'imports.run'] as const;

/** What `/metrics` tells. No label names an organisation or comes from what was sent: the number of series is that of routes and fields. */
export class Metrics {
  readonly registry = new Registry();
  private readonly requests = new Histogram({
    name: 'coolback_http_request_seconds',
    help: 'Time of answers by route',
    labelNames: ['method', 'route', 'status'] as const,
    buckets: SECONDS,
    registers: [this.registry],
  });
  private readonly operations = new Histogram({
    name: 'coolback_graphql_operation_seconds',
    help: 'Time of executed GraphQL operations by their first field',
    labelNames: ['kind', 'field', 'outcome'] as const,
    buckets: SECONDS,
    registers: [this.registry],
  });

  constructor(pool: Pool) {
    collectDefaultMetrics({ register: this.registry });
    for (const [name, help, value] of [
      ['coolback_pool_connections', 'Open connections to the database', () => pool.totalCount],
      ['coolback_pool_idle_connections', 'Connections nobody uses', () => pool.idleCount],
      ['coolback_pool_waiting_requests', 'Requests that wait for a connection', () => pool.waitingCount],
    ] as const) {
      new Gauge({
        name,
        help,
        registers: [this.registry],
        collect() {
          this.set(value());
        },
      });
    }
    new Gauge({
      name: 'coolback_queue_oldest_seconds',
      help: 'How long the oldest work of a kind has been due and not done; of events.fan-out: the age of the outbox',
      labelNames: ['job'] as const,
      registers: [this.registry],
      async collect() {
        const { rows } = await pool
          .query<{ job: string; oldest_s: number }>('select job, oldest_s from queue_waiting()')
          // Without the database there is nothing to tell of its queue, and the other measures are wanted all the more.
          .catch(() => ({ rows: [] }));
        this.reset();
        for (const job of JOBS_ALWAYS) this.set({ job }, 0);
        for (const row of rows) this.set({ job: row.job }, row.oldest_s);
      },
    });
  }

  /** Times every answer by the pattern of its route. */
  watch(fastify: FastifyInstance): void {
    fastify.addHook('onResponse', (request, reply, done) => {
      this.requests.observe(
        { method: request.method, route: request.routeOptions.url ?? 'none', status: reply.statusCode },
        reply.elapsedTime / 1000,
      );
      done();
    });
  }

  graphql(kind: 'query' | 'mutation', field: string, failed: boolean, seconds: number): void {
    this.operations.observe({ kind, field, outcome: failed ? 'errors' : 'data' }, seconds);
  }
}
