import { RequestMethod } from '@nestjs/common';
import { z } from 'zod';
import { ImportLine, Problem, STATUS_OF_KIND } from '#libs/contracts/index.js';
import { OPEN_TO_ALL } from './caller.guard.js';
import { type DescribedOperation, describedOperations } from './operation.js';
import { SESSION_COOKIE } from './session-cookie.js';

interface JsonObject {
  [key: string]: unknown;
}

const METHOD_NAMES: Readonly<Partial<Record<RequestMethod, string>>> = {
  [RequestMethod.GET]: 'get',
  [RequestMethod.POST]: 'post',
  [RequestMethod.PATCH]: 'patch',
  [RequestMethod.PUT]: 'put',
  [RequestMethod.DELETE]: 'delete',
};

/** The OpenAPI 3.1 description of every described route. Built from the same schemas that validate, so that it cannot say anything else. */
export function openApiDocument(version: string): JsonObject {
  const schemas = componentSchemas();
  const paths: Record<string, JsonObject> = {};
  for (const operation of describedOperations()) {
    const { path, method } = routeOf(operation);
    paths[path] ??= {};
    paths[path][method] = operationObject(operation, path);
  }
  return {
    openapi: '3.1.1',
    info: {
      title: 'Coolback',
      version,
      summary: 'Shared diagnostic memory for vehicle air-conditioning shops',
      description:
        'Cases, one fault engine, returns followed across shops, outcomes by vehicle platform. Every refusal is a problem document (RFC 9457). Values travel as typed, with UCUM unit codes. The engine advises; licensed practice and the maker’s procedure decide.',
      license: { name: 'All rights reserved', identifier: 'LicenseRef-Proprietary' },
    },
    servers: [{ url: '/' }],
    security: [{ key: [] }, { session: [] }],
    tags: [...new Set(describedOperations().map(tagOf))].sort().map((name) => ({ name, description: `Operations on ${name}.` })),
    paths: Object.fromEntries(Object.entries(paths).sort(([a], [b]) => (a < b ? -1 : 1))),
    components: {
      securitySchemes: {
        key: { type: 'http', scheme: 'bearer', description: 'A key of this service, `cbk_…`.' },
        session: {
          type: 'apiKey',
          in: 'cookie',
          name: SESSION_COOKIE,
          description: 'The cookie of POST /v1/session. Honoured for pages of this server only.',
        },
      },
      schemas,
    },
  };
}

function routeOf(operation: DescribedOperation): { path: string; method: string } {
  const handler = handlerOf(operation);
  const base = String(Reflect.getMetadata('path', operation.controller) ?? '');
  const rest = String(Reflect.getMetadata('path', handler) ?? '');
  const method = METHOD_NAMES[Reflect.getMetadata('method', handler) as RequestMethod];
  if (!method) throw new Error(`${operation.id} has a method that OpenAPI does not describe`);
  const path = `/${[base, rest]
    .map((part) => part.replace(/^\/|\/$/g, ''))
    .filter(Boolean)
    .join('/')}`.replace(/:(\w+)/g, '{$1}');
  return { path, method };
}

const tagOf = (operation: DescribedOperation): string =>
  (operation.controller as { name: string }).name.replace(/Controller$/, '').toLowerCase();

const handlerOf = (operation: DescribedOperation): object =>
  (operation.controller as { prototype: Record<string, object> }).prototype[operation.handler]!;
const isOpenToAll = (operation: DescribedOperation): boolean => Reflect.getMetadata(OPEN_TO_ALL, handlerOf(operation)) === true;

function operationObject(operation: DescribedOperation, path: string): JsonObject {
  const parameters: JsonObject[] = [];
  for (const [name, schema] of Object.entries(operation.params ?? {})) {
    parameters.push({ name, in: 'path', required: true, description: `Identifier in ${path}.`, schema: inlineSchema(schema, 'input') });
  }
  for (const [name, schema] of Object.entries((operation.query as z.ZodObject | undefined)?.shape ?? {})) {
    const { description, ...rest } = inlineSchema(schema as z.ZodType, 'input');
    const required = !(schema as z.ZodType).safeParse(undefined).success;
    const example = operation.queryExample?.[name];
    parameters.push({
      name,
      in: 'query',
      required,
      description: description ?? `Filter by ${name}.`,
      schema: rest,
      ...(example === undefined ? {} : { example }),
    });
  }
  if (operation.creates) {
    parameters.push({
      name: 'Idempotency-Key',
      in: 'header',
      required: true,
      description: 'Any text of your own, new for each new request; repeat it when you repeat the request.',
      schema: { type: 'string', minLength: 1, maxLength: 255 },
    });
  }
  if (operation.ifMatch) {
    parameters.push({
      name: 'If-Match',
      in: 'header',
      required: operation.ifMatch === 'required',
      description: 'The ETag that was read, e.g. "3".',
      schema: { type: 'string' },
    });
  }
  const status = String(operation.status ?? 200);
  return {
    operationId: operation.id,
    summary: operation.summary,
    description: `${operation.permission ? `Needs the permission \`${operation.permission}\`.` : operation.summary}${ending(operation)}`,
    tags: [tagOf(operation)],
    ...(operation.deprecated ? { deprecated: true } : {}),
    ...(isOpenToAll(operation) ? { security: [] } : operation.sessionOnly ? { security: [{ session: [] }] } : {}),
    ...(parameters.length > 0 ? { parameters } : {}),
    ...(operation.body
      ? {
          requestBody: {
            required: true,
            content: {
              [operation.bodyType ?? 'application/json']: {
                schema: reference(operation.body, 'input'),
                ...(operation.example ? { example: operation.example } : {}),
              },
            },
          },
        }
      : {}),
    ...(operation.file ? { requestBody: fileBody(operation.example) } : {}),
    responses: {
      [status]: {
        description: 'Done.',
        content: { [operation.replyType ?? 'application/json']: { schema: reference(operation.reply, 'output') } },
      },
      ...(operation.id === 'openCase'
        ? {
            200: {
              description: 'Known already: unchanged or revised.',
              content: { 'application/json': { schema: reference(operation.reply, 'output') } },
            },
          }
        : {}),
      ...problemResponses(operation),
    },
  };
}

const ending = ({ deprecated }: DescribedOperation): string =>
  deprecated ? ` Deprecated since ${deprecated.since}; may be gone from ${deprecated.sunset}. ${deprecated.instead}` : '';

/** What a file of cases may be; the example is one line of it. */
const fileBody = (example: unknown): JsonObject => ({
  required: true,
  description: 'Plain, or gzip with Content-Encoding. Content-Digest (sha-256) is checked when sent.',
  content: {
    'application/x-ndjson': { schema: reference(ImportLine, 'input'), ...(example === undefined ? {} : { example }) },
    'text/csv': { schema: { type: 'string', description: 'The template is at /v1/imports/template.csv.' } },
    'text/tab-separated-values': { schema: { type: 'string' } },
  },
});

function problemResponses(operation: DescribedOperation): JsonObject {
  const statuses = new Set<number>([STATUS_OF_KIND.unavailable, 500]);
  if (!isOpenToAll(operation)) for (const status of [STATUS_OF_KIND.unauthenticated, STATUS_OF_KIND.limited]) statuses.add(status);
  // A session is refused to pages of other sites wherever one would do.
  if (!isOpenToAll(operation)) statuses.add(STATUS_OF_KIND.forbidden);
  if (operation.params) statuses.add(STATUS_OF_KIND.not_found);
  if (operation.body || operation.query || operation.params) statuses.add(STATUS_OF_KIND.invalid);
  if (operation.body || operation.file)
    for (const status of [STATUS_OF_KIND.malformed, STATUS_OF_KIND.too_large, STATUS_OF_KIND.unsupported]) statuses.add(status);
  if (operation.body && !operation.params) statuses.add(STATUS_OF_KIND.not_found);
  if (operation.creates) for (const status of [STATUS_OF_KIND.malformed, STATUS_OF_KIND.conflict]) statuses.add(status);
  if (operation.ifMatch) {
    for (const status of [
      STATUS_OF_KIND.malformed,
      STATUS_OF_KIND.precondition_failed,
      STATUS_OF_KIND.precondition_required,
      STATUS_OF_KIND.conflict,
    ]) {
      statuses.add(status);
    }
  }
  return Object.fromEntries(
    [...statuses]
      .sort((a, b) => a - b)
      .map((status) => [
        String(status),
        {
          description: 'A problem: what, where, and how to mend it.',
          content: { 'application/problem+json': { schema: { $ref: '#/components/schemas/Problem' } } },
        },
      ]),
  );
}

function idOf(schema: z.ZodType): string | undefined {
  return z.globalRegistry.get(schema)?.id;
}

function reference(schema: z.ZodType, io: 'input' | 'output'): JsonObject {
  const id = idOf(schema);
  return id ? { $ref: `#/components/schemas/${id}` } : inlineSchema(schema, io);
}

function inlineSchema(schema: z.ZodType, io: 'input' | 'output'): JsonObject {
  const { $schema: _dialect, ...rest } = z.toJSONSchema(schema, { target: 'draft-2020-12', io, unrepresentable: 'any' }) as JsonObject;
  return rewriteRefs(rest) as JsonObject;
}

/** Every schema with an identity, as a component. A schema that reads differently as request and as answer would need two names. */
function componentSchemas(): JsonObject {
  const asInput = convertAll('input');
  const asOutput = convertAll('output');
  for (const id of Object.keys(asInput)) {
    if (JSON.stringify(asInput[id]) !== JSON.stringify(asOutput[id]))
      throw new Error(`the schema ${id} converts differently for request and answer`);
  }
  if (!asOutput['Problem']) throw new Error(`${idOf(Problem) ?? 'Problem'} is not described`);
  return asOutput;
}

function convertAll(io: 'input' | 'output'): JsonObject {
  const { schemas } = z.toJSONSchema(z.globalRegistry, {
    target: 'draft-2020-12',
    io,
    unrepresentable: 'any',
    uri: (id) => `#/components/schemas/${id}`,
  }) as { schemas: Record<string, JsonObject> };
  return Object.fromEntries(
    Object.entries(schemas)
      .sort(([a], [b]) => (a < b ? -1 : 1))
      .map(([id, { $schema: _dialect, $id: _uri, id: _id, ...rest }]) => [id, rest]),
  );
}

function rewriteRefs(value: unknown): unknown {
  if (Array.isArray(value)) return value.map(rewriteRefs);
  if (typeof value !== 'object' || value === null) return value;
  return Object.fromEntries(
    Object.entries(value)
      .filter(([key]) => key !== '$defs' && key !== '$id' && key !== 'id')
      .map(([key, inner]) => [
        key,
        key === '$ref' && typeof inner === 'string' ? inner.replace('#/$defs/', '#/components/schemas/') : rewriteRefs(inner),
      ]),
  );
}
