import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { beforeAll, describe, expect, it } from '@jest/globals';
import { createConfig, lintFromString } from '@redocly/openapi-core';
import { buildSchema, findBreakingChanges } from 'graphql';
import { z } from 'zod';
import { contractDocuments } from '#apps/cli/contract.js';
import { breakingChanges, type Document } from './compare.js';
import { CONTRACT, committed, GRAPHQL_ONLY, routesOf, TWINS } from './documents.js';

let made: { readonly openApi: string; readonly sdl: string };
let document: Document;
beforeAll(async () => {
  made = await contractDocuments();
  document = JSON.parse(made.openApi) as Document;
});

const RELEASED = join(CONTRACT, 'released');
const releases = readdirSync(RELEASED, { withFileTypes: true }).filter((entry) => entry.isDirectory());
/** Breaks that a release made on purpose, word for word as the comparer names them, each with its reason. */
const ACCEPTED = JSON.parse(readFileSync(join(RELEASED, 'accepted-breaks.json'), 'utf8')) as Record<string, string>;

describe('the committed documents', () => {
  it('are what the code makes (npm run build:server && npm run contract writes them anew)', () => {
    expect(made.openApi === committed('openapi.json')).toBe(true);
    expect(made.sdl === committed('schema.graphql')).toBe(true);
  });

  it('break no client of a release', () => {
    expect(releases.length).toBeGreaterThan(0);
    for (const { name } of releases) {
      const openApi = JSON.parse(readFileSync(join(RELEASED, name, 'openapi.json'), 'utf8')) as Document;
      const sdl = readFileSync(join(RELEASED, name, 'schema.graphql'), 'utf8');
      const breaks = [
        ...breakingChanges(openApi, document),
        ...findBreakingChanges(buildSchema(sdl), buildSchema(made.sdl)).map(({ description }) => description),
      ];
      expect(breaks.filter((sentence) => ACCEPTED[sentence] === undefined)).toEqual([]);
    }
  });
});

describe('the OpenAPI document', () => {
  it('is OpenAPI 3.1 by structure, references and paths', async () => {
    const config = await createConfig({
      rules: {
        struct: 'error',
        'no-unresolved-refs': 'error',
        'no-undefined-server-variable': 'error',
        'path-parameters-defined': 'error',
        'path-not-include-query': 'error',
        'no-ambiguous-paths': 'error',
        'no-identical-paths': 'error',
        'operation-operationId': 'error',
        'operation-operationId-unique': 'error',
        'operation-operationId-url-safe': 'error',
        'operation-parameters-unique': 'error',
        'operation-summary': 'error',
        'operation-2xx-response': 'error',
        'operation-4xx-problem-details-rfc7807': 'error',
        'security-defined': 'error',
        'tag-description': 'error',
        'no-enum-type-mismatch': 'error',
        'no-invalid-media-type-examples': 'error',
        'no-invalid-schema-examples': 'error',
        'no-required-schema-properties-undefined': 'error',
        'no-unused-components': 'off',
      },
    });
    const faults = async (source: string) =>
      (await lintFromString({ source, config })).map(({ ruleId, message, location }) => `${ruleId} ${location[0]?.pointer}: ${message}`);
    expect(await faults(made.openApi)).toEqual([]);
    // The check can fail: a reference that leads nowhere and a type that does not exist.
    const broken = made.openApi.replace(
      '"$ref": "#/components/schemas/CaseSummaryPage"',
      '"type": "page", "$ref": "#/components/schemas/None"',
    );
    expect((await faults(broken)).length).toBeGreaterThan(0);
  });

  it('gives every operation one identity, and a problem document for every refusal', () => {
    const routes = routesOf(document);
    expect(routes.length).toBeGreaterThan(40);
    expect(new Set(routes.map(({ operation }) => operation.operationId)).size).toBe(routes.length);
    for (const { operation } of routes) {
      for (const [status, { content }] of Object.entries(operation.responses)) {
        if (status.startsWith('2')) continue;
        expect([operation.operationId, status, content]).toEqual([
          operation.operationId,
          status,
          { 'application/problem+json': { schema: { $ref: '#/components/schemas/Problem' } } },
        ]);
      }
    }
  });

  it('holds each schema once, the same for request and answer', () => {
    const text = (io: 'input' | 'output') => {
      const { schemas } = z.toJSONSchema(z.globalRegistry, { target: 'draft-2020-12', io, unrepresentable: 'any' }) as {
        schemas: Record<string, object>;
      };
      return Object.fromEntries(Object.entries(schemas).map(([id, schema]) => [id, JSON.stringify(schema)]));
    };
    expect(text('input')).toEqual(text('output'));
    expect(Object.keys(document.components.schemas).sort()).toEqual(Object.keys(text('output')).sort());
  });
});

describe('REST and GraphQL', () => {
  it('offer the same operations', () => {
    const schema = buildSchema(made.sdl);
    const fields = [schema.getQueryType()!, schema.getMutationType()!].flatMap((type) =>
      Object.keys(type.getFields()).map((field) => `${type.name}.${field}`),
    );
    expect(schema.getSubscriptionType()).toBeFalsy();
    expect(Object.keys(TWINS).sort()).toEqual(
      routesOf(document)
        .map(({ operation }) => operation.operationId)
        .sort(),
    );
    const twins = Object.values(TWINS).filter((twin) => twin !== null);
    expect([...twins, ...Object.keys(GRAPHQL_ONLY)].sort()).toEqual(fields.sort());
  });
});

// biome-ignore lint/suspicious/noExplicitAny: the plants reach into every corner of a document
type Loose = any;

describe('the comparer of releases', () => {
  const change = (edit: (copy: Loose) => void): Document => {
    const copy = structuredClone(document);
    edit(copy);
    return copy;
  };
  const schemas = (edit: (all: Loose) => void) => change((copy) => edit(copy.components.schemas));
  it.each<[string, () => Document, RegExp]>([
    ['an operation that is gone', () => change((d) => delete d.paths['/v1/shops'].get), /^GET \/v1\/shops: the operation is gone$/],
    ['another operationId', () => change((d) => (d.paths['/v1/me'].get.operationId = 'whoAmI')), /operationId me became whoAmI/],
    ['a filter that is gone', () => change((d) => d.paths['/v1/cases'].get.parameters.shift()), /query shopId parameter is gone/],
    [
      'a filter that became required',
      () => change((d) => (d.paths['/v1/cases'].get.parameters[0].required = true)),
      /query shopId parameter became required/,
    ],
    ['a new required field of a request', () => schemas((s) => s.NewShop.required.push('phone')), /body\.phone: it became required/],
    ['a field of a request that is gone', () => schemas((s) => delete s.NewCase.properties.notes), /body\.notes: it is gone/],
    ['a word that is not taken any more', () => schemas((s) => s.Complaint.enum.splice(0, 1)), /the word "cools-poorly" is not taken/],
    ['a narrower number', () => schemas((s) => (s.Quantity.properties.value.maximum = 10)), /value: its maximum fell/],
    ['a shorter text', () => schemas((s) => (s.NewCase.properties.notes.maxLength = 10)), /notes: its maxLength fell/],
    ['another type in a request', () => schemas((s) => (s.Quantity.properties.unit.type = 'number')), /unit: string became number/],
    [
      'a field of an answer that is gone',
      () => schemas((s) => delete s.CaseSummary.properties.status),
      /200\.data\[\]\.status: it is gone/,
    ],
    [
      'a field of an answer that may be missing',
      () => schemas((s) => s.CaseSummary.required.splice(s.CaseSummary.required.indexOf('shopId'), 1)),
      /shopId: it may be missing now/,
    ],
    [
      'a field of an answer that may be null',
      () =>
        schemas((s) => (s.CaseSummary.properties.complaint = { anyOf: [{ $ref: '#/components/schemas/Complaint' }, { type: 'null' }] })),
      /complaint: null may be answered now/,
    ],
    [
      'null that is not taken any more',
      () => schemas((s) => (s.NewKey.properties.expiresAt = { type: 'string', format: 'date-time' })),
      /expiresAt: null is not taken any more/,
    ],
    ['an answer that is gone', () => change((d) => delete d.paths['/v1/cases'].post.responses['200']), /the answer 200 is gone/],
    ['a key where none was needed', () => change((d) => delete d.paths['/v1/units'].get.security), /it needs a key now/],
  ])('finds %s', (_name, planted, sentence) => {
    const breaks = breakingChanges(document, planted());
    expect(breaks.filter((one) => sentence.test(one)).length).toBeGreaterThan(0);
  });

  it('lets pass what clients were told to expect', () => {
    const grown = change((d) => {
      d.paths['/v1/news'] = { get: structuredClone(d.paths['/v1/units'].get) };
      d.paths['/v1/cases'].get.parameters.push({ name: 'colour', in: 'query', required: false, schema: { type: 'string' } });
      d.components.schemas.NewShop.properties.phone = { type: 'string' };
      d.components.schemas.CaseSummary.properties.colour = { type: 'string' };
      d.components.schemas.CaseSummary.required.push('colour');
      d.components.schemas.EpisodeEnd.enum.push('stolen');
      d.components.schemas.Quantity.properties.value.maximum = 1e12;
    });
    expect(breakingChanges(document, grown)).toEqual([]);
    expect(breakingChanges(document, document)).toEqual([]);
  });
});
