import { statfs } from 'node:fs/promises';
import { Controller, Get, Header, Inject, Res } from '@nestjs/common';
import type { FastifyReply } from 'fastify';
import { type Pool, pendingMigrations } from '#libs/database/index.js';
import { OpenToAll } from './caller.guard.js';
import { Metrics } from './metrics.js';

export const POOL = Symbol('pool');

/** State of the process that the probes report. */
export class Readiness {
  draining = false;
  /** The schema was found to be that of this program; nothing takes a migration back. */
  migrated = false;

  /** `dataDirectory`: where the embedded database keeps its data; null where the database lies elsewhere and looks after its own disk. */
  constructor(private readonly dataDirectory: string | null = null) {}

  /** Bytes that are free for the database; null where its disk is not ours to look at. */
  async freeBytes(): Promise<number | null> {
    if (this.dataDirectory === null) return null;
    const { bavail, bsize } = await statfs(this.dataDirectory);
    return bavail * bsize;
  }
}

/** Below this the database will soon refuse to write (common practice; four of its log segments of 16 MB). */
const MIN_FREE_BYTES = 64 * 1024 ** 2;

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

  /** Whether requests should come here: not while draining, while the database cannot answer, before it has been migrated, or once its disk is full. */
  @Get('readyz')
  async readyz(@Res({ passthrough: true }) reply: FastifyReply) {
    if (this.readiness.draining) {
      reply.code(503);
      return { status: 'draining' };
    }
    try {
      if (!this.readiness.migrated) {
        const pending = await pendingMigrations(this.pool);
        if (pending.length > 0) {
          reply.code(503).header('retry-after', '10');
          return { status: 'migrations-pending', pending };
        }
        this.readiness.migrated = true;
      } else await this.pool.query('select 1');
      const freeBytes = await this.readiness.freeBytes();
      if (freeBytes !== null && freeBytes < MIN_FREE_BYTES) {
        reply.code(503).header('retry-after', '30');
        return { status: 'disk-full', freeBytes };
      }
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
