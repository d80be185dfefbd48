import type { Server } from 'node:http';
import type { FastifyInstance } from 'fastify';

interface Known {
  readonly pattern: RegExp;
  readonly method: string;
}
const ROUTES = new WeakMap<object, Known[]>();

/** Remembers every route from here on, so that a wrong method at a right address can be told from a wrong address. */
export function rememberRoutes(fastify: FastifyInstance): void {
  const routes: Known[] = [];
  ROUTES.set(fastify.server, routes);
  fastify.addHook('onRoute', ({ url, method }) => {
    const pattern = new RegExp(`^${url.replace(/[.$^]/g, '\\$&').replace(/:\w+/g, '[^/]+').replaceAll('*', '.*')}$`);
    for (const one of [method].flat()) routes.push({ pattern, method: one });
  });
}

/** Methods an address is known by, empty where there is nothing. */
export function allowedMethods(server: Server | object, path: string): string[] {
  const known = ROUTES.get(server) ?? [];
  return [...new Set(known.filter(({ pattern }) => pattern.test(path)).map(({ method }) => method))].sort();
}
