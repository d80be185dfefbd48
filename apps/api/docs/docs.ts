import type { FastifyInstance } from 'fastify';
/** Replaced below. */
export function registerDocs(_fastify: FastifyInstance): void {}
