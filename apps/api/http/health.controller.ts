import { Controller, Get, Header, Inject, Res } from '@nestjs/common';
import type { FastifyReply } from 'fastify';
import type { Pool } from '#libs/database/index.js';
import { OpenToAll } from './caller.guard.js';
import { Metrics } from './metrics.js';

export const POOL = Symbol('pool');

/** State of the process that the probes report. */
export class Readiness {
  draining = false;
}

@Controller()
@OpenToAll()
export class HealthController {
  constructor(
    @Inject(POOL) private readonly pool: Pool,
    @Inject(Readiness) private readonly readiness: Readiness,
    @Inject(Metrics) private readonly metrics: Metrics,
  ) {}

  /** The process runs; the database is not asked. */
  @Get('livez')
  livez() {
    return { status: 'live' };
  }

  /** Whether requests should come here: not while draining, not while the database cannot answer. */
  @Get('readyz')
  async readyz(@Res({ passthrough: true }) reply: FastifyReply) {
    if (this.readiness.draining) {
      reply.code(503);
      return { status: 'draining' };
    }
    try {
      await this.pool.query('select 1');
      return { status: 'ready' };
    } catch {
      reply.code(503).header('retry-after', '2');
      return { status: 'database-unavailable' };
    }
  }

  @Get('metrics')
  @Header('content-type', 'text/plain; version=0.0.4')
  async scrape() {
    return this.metrics.registry.metrics();
  }
}
