import type { FastifyInstance } from 'fastify';
import { stringify } from 'yaml';
import { PERMISSIONS } from '#libs/contracts/index.js';
import { resourceOf } from '../http/public-url.js';
import { RouteNotFound } from '../http/transport.errors.js';

const DAY_MS = 86_400_000;
/** How long the word of `security.txt` holds; RFC 9116 (section 2.5.5) recommends less than a year. */
const SECURITY_DAYS = 180;

export interface WellKnownParts {
  readonly publicUrl?: string | null;
  readonly securityContact?: string | null;
}

/** What machines look for before they know anything: RFC 9727 (catalogue), RFC 9728 (how to be let in), RFC 9116 (where to report a weakness). */
export function registerWellKnown(
  fastify: FastifyInstance,
  openApi: () => string,
  { publicUrl = null, securityContact = null }: WellKnownParts,
): void {
  fastify.get('/.well-known/api-catalog', async (request, reply) =>
    reply
      .header('content-type', 'application/linkset+json; profile="https://www.rfc-editor.org/info/rfc9727"')
      .header('link', '</.well-known/api-catalog>; rel="api-catalog"')
      .send(JSON.stringify(catalogue(resourceOf(request, publicUrl)))),
  );
  fastify.get('/.well-known/oauth-protected-resource', async (request, reply) =>
    reply.header('content-type', 'application/json; charset=utf-8').send(
      JSON.stringify({
        resource: resourceOf(request, publicUrl),
        resource_name: 'Coolback',
        resource_documentation: `${resourceOf(request, publicUrl)}/docs`,
        bearer_methods_supported: ['header'],
        scopes_supported: PERMISSIONS,
      }),
    ),
  );
  fastify.get('/.well-known/security.txt', async (_request, reply) => {
    if (securityContact === null) throw new RouteNotFound('GET', '/.well-known/security.txt');
    const expires = new Date((Math.floor(Date.now() / DAY_MS) + SECURITY_DAYS) * DAY_MS).toISOString();
    return reply
      .header('content-type', 'text/plain; charset=utf-8')
      .send(`Contact: ${securityContact}\r\nExpires: ${expires}\r\nPreferred-Languages: en\r\n`);
  });
  let yaml: string | null = null;
  fastify.get('/openapi.yaml', async (_request, reply) => {
    yaml ??= stringify(JSON.parse(openApi()), { aliasDuplicateObjects: false });
    return reply.type('application/vnd.oai.openapi;version=3.1').send(yaml);
  });
}

/** Both interfaces with their descriptions (RFC 9264 link sets). */
const catalogue = (origin: string) => ({
  linkset: [
    {
      anchor: `${origin}/v1`,
      'service-desc': [
        { href: `${origin}/openapi.json`, type: 'application/vnd.oai.openapi+json;version=3.1' },
        { href: `${origin}/openapi.yaml`, type: 'application/vnd.oai.openapi;version=3.1' },
      ],
      'service-doc': [{ href: `${origin}/docs`, type: 'text/html' }],
      status: [{ href: `${origin}/readyz`, type: 'application/json' }],
    },
    { anchor: `${origin}/graphql`, 'service-doc': [{ href: `${origin}/graphiql`, type: 'text/html' }] },
  ],
});
