import { existsSync } from 'node:fs';
import { createRequire } from 'node:module';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import fastifyStatic from '@fastify/static';
import type { FastifyInstance } from 'fastify';
import { openApiDocument } from '../http/openapi.js';
import { problemIndex, problemPage } from './problem-pages.js';
import { registerWellKnown, type WellKnownParts } from './well-known.js';

export const API_VERSION = '1.0.0';
const require = createRequire(import.meta.url);

/** Where the built console lies: `dist/console` of the installation, found from the compiled files and from the sources alike. */
export function consoleDirectory(): string {
  let directory = dirname(fileURLToPath(import.meta.url));
  while (!existsSync(join(directory, 'package.json')) && dirname(directory) !== directory) directory = dirname(directory);
  return join(directory, 'dist', 'console');
}

const SWAGGER_PAGE = `<!doctype html><html lang="en"><head><meta charset="utf-8"><title>Coolback API reference</title>
<meta name="viewport" content="width=device-width, initial-scale=1"><link rel="stylesheet" href="/docs/assets/swagger-ui.css"></head>
<body><main id="reference"></main><script src="/docs/assets/swagger-ui-bundle.js"></script><script src="/docs/start.js"></script></body></html>`;
const SWAGGER_START = `window.onload = () => SwaggerUIBundle({ url: '/openapi.json', dom_id: '#reference', deepLinking: true, persistAuthorization: true });`;

/** Everything a reader needs, served by this process alone: no file comes from another host. */
export function registerDocs(fastify: FastifyInstance, parts: WellKnownParts): void {
  let document: string | null = null;
  const openApi = () => (document ??= JSON.stringify(openApiDocument(API_VERSION), null, 2));
  fastify.get('/openapi.json', async (_request, reply) => reply.type('application/vnd.oai.openapi+json;version=3.1').send(openApi()));
  fastify.get('/docs', async (_request, reply) => reply.type('text/html').send(SWAGGER_PAGE));
  fastify.get('/docs/start.js', async (_request, reply) => reply.type('text/javascript').send(SWAGGER_START));
  fastify.get('/problems', async (_request, reply) => reply.type('text/html').send(problemIndex()));
  fastify.get<{ Params: { slug: string } }>('/problems/:slug', async ({ params }, reply) => {
    const page = problemPage(params.slug);
    return reply
      .code(page === null ? 404 : 200)
      .type('text/html')
      .send(page ?? problemIndex());
  });
  registerWellKnown(fastify, openApi, parts);
  fastify.register(fastifyStatic, {
    root: dirname(require.resolve('swagger-ui-dist/package.json')),
    prefix: '/docs/assets/',
    decorateReply: true,
    allowedPath: (path) => /\/swagger-ui(-bundle\.js|\.css)$/.test(path),
  });
  // Asked for by browsers on pages that name no icon: the reference and the problems.
  fastify.get('/favicon.ico', async (_request, reply) => reply.redirect('/mark.svg', 301));
  fastify.get('/graphiql', async (_request, reply) => reply.redirect('/graphiql.html'));
  const built = consoleDirectory();
  if (existsSync(built))
    fastify.register(fastifyStatic, { root: built, prefix: '/', decorateReply: false, wildcard: false, index: ['index.html'] });
}
