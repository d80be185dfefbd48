import { randomUUID } from 'node:crypto';
import {
  type GraphQLField,
  type GraphQLInputType,
  type GraphQLOutputType,
  type GraphQLSchema,
  getNamedType,
  getNullableType,
  isEnumType,
  isInputObjectType,
  isLeafType,
  isListType,
  isNonNullType,
  isObjectType,
} from 'graphql';
import type { Document, Schema } from '../contract/compare.js';
import { exampleOf, filledPath, GRAPHQL_ONLY, isStream, type Route, routesOf, TWINS } from '../contract/documents.js';
import type { Kind, World } from './world.js';

/** Requests made from the committed description, so that a new route or field is probed as soon as it is described. */
export interface Probe {
  /** Operation, and which of its identifiers is put to the question. */
  readonly name: string;
  readonly operationId: string;
  /** Which kind of thing the identifier names; null when the probe names nothing of anybody's. */
  readonly kind: Kind | null;
  readonly rest?: {
    readonly method: string;
    readonly path: string;
    readonly body: unknown;
    readonly headers: Record<string, string>;
    readonly isStream: boolean;
  };
  readonly graphql?: { readonly query: string; readonly variables: Record<string, unknown> };
}

/** What the `{id}` of a path names, by the path's first noun; fields of requests, by their name. */
const KIND_OF_PATH: Readonly<Record<string, Kind>> = {
  cases: 'case',
  cylinders: 'cylinder',
  imports: 'import',
  keys: 'key',
  machines: 'machine',
  members: 'member',
  documents: 'document',
  platforms: 'platform',
  policies: 'policy',
  rediagnoses: 'rediagnosis',
  'refrigerant-entries': 'entry',
  shops: 'shop',
  tasks: 'task',
  vehicles: 'vehicle',
  webhooks: 'webhook',
  deliveryId: 'delivery',
  mergeId: 'merge',
  photographId: 'photograph',
  repairId: 'repair',
};
const KIND_OF_FIELD: Readonly<Record<string, Kind>> = {
  shopId: 'shop',
  shopIds: 'shop',
  platformId: 'platform',
  vehicleId: 'vehicle',
  caseId: 'case',
  subjectId: 'case',
  toShopId: 'shop',
  mergedId: 'otherVehicle',
  cylinderId: 'cylinder',
  machineId: 'machine',
  memberId: 'member',
  keyId: 'key',
};
/** Stand-in for the identifier under question, replaced when the probe is sent. */
export const ASKED = '00000000-0000-7000-8000-00000000a5ed';
const SAMPLE_SHOP = '0197a2b4-7c00-7000-8000-000000000001';
const SAMPLE_PLATFORM = '0197a2b4-7c00-7000-8000-000000000002';
const SAMPLE_VEHICLE = '0197a2b4-7c00-7000-8000-000000000003';

function kindOf(names: Readonly<Record<string, Kind>>, name: string, where: string): Kind {
  const kind = names[name];
  if (!kind) throw new Error(`${where}: nobody has said what "${name}" names; add it to tests/isolation/probes.ts`);
  return kind;
}

const deref = (schema: Schema, document: Document): Schema =>
  schema.$ref === undefined ? schema : deref(document.components.schemas[schema.$ref.replace('#/components/schemas/', '')]!, document);

/** Paths in a request schema at which an identifier stands. */
function identifierPaths(schema: Schema, document: Document, path: readonly string[] = []): string[][] {
  const here = deref(schema, document);
  const branches = here.anyOf ?? here.oneOf;
  if (branches) return branches.flatMap((one) => identifierPaths(one, document, path));
  if (here.format === 'uuid') return [[...path]];
  if (here.items) return identifierPaths(here.items, document, [...path, '0']);
  return Object.entries(here.properties ?? {}).flatMap(([name, inner]) => identifierPaths(inner, document, [...path, name]));
}

export function withValueAt(body: unknown, path: readonly string[], value: unknown): unknown {
  if (path.length === 0) return value;
  const [head, ...rest] = path as [string, ...string[]];
  if (/^\d+$/.test(head)) {
    const list = Array.isArray(body) ? [...body] : [];
    list[Number(head)] = withValueAt(list[Number(head)], rest, value);
    return list;
  }
  const object = (body ?? {}) as Record<string, unknown>;
  return { ...object, [head]: withValueAt(object[head], rest, value) };
}

/** The example of an operation as the asking world can send it: its own shop and platform, a code of its own. */
export function bodyFor(route: Route, asker: World): unknown {
  const example = exampleOf(route)?.body;
  if (example === undefined) return undefined;
  const text = JSON.stringify(example)
    .replaceAll(SAMPLE_SHOP, asker.ids.shop)
    .replaceAll(SAMPLE_PLATFORM, asker.ids.platform)
    .replaceAll(SAMPLE_VEHICLE, asker.ids.otherVehicle)
    .replaceAll('harbour-road', asker.shopCode)
    .replaceAll('heron-c', asker.platformCode);
  const body = JSON.parse(text) as Record<string, unknown>;
  return route.operation.operationId === 'addShop' || route.operation.operationId === 'addPlatform'
    ? { ...body, code: `code-${randomUUID()}` }
    : body;
}

/** One probe for the route as such, and one for each identifier it takes. */
export function restProbes(document: Document, asker: World): Probe[] {
  return routesOf(document).flatMap((route): Probe[] => {
    const { method, path, operation } = route;
    const id = operation.operationId;
    const headers: Record<string, string> = operation.parameters?.some(({ name }) => name === 'If-Match') ? { 'if-match': '"1"' } : {};
    if (operation.requestBody) headers['content-type'] = exampleOf(route)!.type;
    const query = new URLSearchParams(
      (operation.parameters ?? []).flatMap((one) =>
        one.in === 'query' && one.example !== undefined ? [[one.name, String(one.example).replaceAll(SAMPLE_SHOP, asker.ids.shop)]] : [],
      ) as [string, string][],
    );
    // From the beginning, or there would be nothing to hear.
    if (isStream(route) && operation.parameters?.some((one) => one.name === 'after')) query.set('after', '0');
    const ask = (name: string, kind: Kind | null, parts: { path?: string; query?: URLSearchParams; body?: unknown }): Probe => {
      const text = (parts.query ?? query).toString();
      const rest = {
        method,
        path: `${parts.path ?? path}${text === '' ? '' : `?${text}`}`,
        body: parts.body ?? bodyFor(route, asker),
        headers,
        isStream: isStream(route),
      };
      return { name: `${id} ${name}`.trim(), operationId: id, kind, rest };
    };
    const parameters = [...path.matchAll(/\{(\w+)\}/g)].map(([, name]) => name!).filter((name) => name !== 'line');
    if (parameters.length > 0) {
      const kinds = new Map(
        parameters.map((name) => [name, kindOf(KIND_OF_PATH, name === 'id' ? path.split('/')[2]! : name, `${method} ${path}`)]),
      );
      const own = (name: string) => asker.ids[kinds.get(name)!];
      const byPath = [...kinds].map(([name, kind]) =>
        ask(`by {${name}}`, kind, { path: filledPath(path, (one) => (one === name ? ASKED : own(one))) }),
      );
      return [
        ...byPath,
        ...inBody(route, document, asker).map(({ kind, at, body }) => ask(`by ${at}`, kind, { path: filledPath(path, own), body })),
      ];
    }
    const byQuery = (operation.parameters ?? [])
      .filter((one) => one.in === 'query' && identifierPaths(one.schema, document).length > 0)
      .map(({ name }) => {
        const asked = new URLSearchParams(query);
        asked.set(name, ASKED);
        return ask(`by ?${name}`, kindOf(KIND_OF_FIELD, name, `${method} ${path}`), { query: asked });
      });
    return [ask('', null, {}), ...byQuery, ...inBody(route, document, asker).map(({ kind, at, body }) => ask(`by ${at}`, kind, { body }))];
  });
}

function inBody(route: Route, document: Document, asker: World): { kind: Kind; at: string; body: unknown }[] {
  const content = Object.values(route.operation.requestBody?.content ?? {})[0];
  if (!content) return [];
  return identifierPaths(content.schema, document).map((path) => {
    const name = path.filter((part) => !/^\d+$/.test(part)).at(-1)!;
    let body = withValueAt(bodyFor(route, asker), path, ASKED) as Record<string, unknown>;
    // A code beside the identifier would name a second one.
    if (name === 'shopId') body = { ...body, shopCode: undefined };
    if (name === 'platformId' && path.length === 2)
      body = withValueAt(body, [path[0]!, 'platformCode'], undefined) as Record<string, unknown>;
    return { kind: kindOf(KIND_OF_FIELD, name, route.path), at: `/${path.join('/')}`, body };
  });
}

/** The same probes over GraphQL: one for each field as such, and one for each identifier among its arguments. */
export function graphqlProbes(schema: GraphQLSchema, document: Document, asker: World): Probe[] {
  const operationOf = new Map(Object.entries(TWINS).flatMap(([id, twin]) => (twin === null ? [] : [[twin, id]])));
  const rest = restProbes(document, asker);
  return [schema.getQueryType()!, schema.getMutationType()!].flatMap((type) =>
    Object.values(type.getFields()).flatMap((field): Probe[] => {
      const name = `${type.name}.${field.name}`;
      // Relay's own way to a thing, beside the one that names its kind.
      if (GRAPHQL_ONLY[name] !== undefined) return nodeProbes(field.name);
      const operationId = operationOf.get(name);
      if (operationId === undefined) throw new Error(`${name} has no operation of REST to be probed by`);
      return rest.filter((probe) => probe.operationId === operationId).map((probe) => twinOf(probe, field, type.name.toLowerCase()));
    }),
  );
}

const NODES: readonly (readonly [string, Kind, string])[] = [
  ['Case', 'case', 'getCase'],
  ['ImportRun', 'import', 'getImport'],
  ['Platform', 'platform', 'getPlatform'],
  ['Shop', 'shop', 'getShop'],
  ['Task', 'task', 'getTask'],
  ['Vehicle', 'vehicle', 'getVehicle'],
];

function nodeProbes(field: string): Probe[] {
  return NODES.flatMap(([type, kind, operationId]) =>
    ['', `${type}:`].map((prefix) => {
      const argument = field === 'node' ? `id: "${prefix}${ASKED}"` : `ids: ["${prefix}${ASKED}"]`;
      const query = `{ ${field}(${argument}) { __typename id nodeId } }`;
      return { name: `${field} of ${prefix}${kind}`, operationId, kind, graphql: { query, variables: {} } };
    }),
  );
}

function twinOf(probe: Probe, field: GraphQLField<unknown, unknown>, operation: string): Probe {
  const { path, body } = probe.rest!;
  const [address, search] = path.split('?') as [string, string | undefined];
  const idsInPath = address.match(/[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}/g) ?? [];
  const query = Object.fromEntries(new URLSearchParams(search));
  const variables: Record<string, unknown> = {};
  for (const { name, type } of field.args) {
    if (name === 'id') variables[name] = idsInPath.at(-1);
    else if (['caseId', 'importId', 'webhookId', 'vehicleId'].includes(name)) variables[name] = idsInPath[0];
    else if (name === 'line') variables[name] = 2;
    else if (name === 'expectedVersion') variables[name] = 1;
    else if (isInputObjectType(getNamedType(type))) {
      const value = body ?? query;
      if (isNonNullType(type) || Object.keys(value as object).length > 0) variables[name] = asInput(value, type);
    } else if (query[name] !== undefined) variables[name] = query[name];
  }
  const used = field.args.filter(({ name }) => variables[name] !== undefined);
  const declared = used.map(({ name, type }) => `$${name}: ${String(type)}`).join(', ');
  const passed = used.map(({ name }) => `${name}: $${name}`).join(', ');
  const call = `${field.name}${used.length > 0 ? `(${passed})` : ''}`;
  const text = `${operation} ${declared === '' ? '' : `(${declared}) `}{ ${call} ${selection(field.type, 0)} }`;
  return { name: `${probe.name} over GraphQL`, operationId: probe.operationId, kind: probe.kind, graphql: { query: text, variables } };
}

/** A value of a request of REST as the input type takes it: enum words with underscores, lists where the address had text. */
function asInput(value: unknown, type: GraphQLInputType): unknown {
  if (isNonNullType(type)) return asInput(value, type.ofType);
  if (value === null || value === undefined) return value;
  if (isListType(type))
    return (typeof value === 'string' ? value.split(',') : Array.isArray(value) ? value : [value]).map((one) => asInput(one, type.ofType));
  if (isEnumType(type)) return String(value).replace(/[^A-Za-z0-9_]/g, '_');
  if (!isInputObjectType(type)) return value;
  const fields = type.getFields();
  return Object.fromEntries(
    Object.entries(value as object).map(([name, inner]) => [name, fields[name] ? asInput(inner, fields[name].type) : inner]),
  );
}

/** Every leaf down to the depth the server allows; of rows that stand elsewhere too (edges, related things), what names them. */
function selection(type: GraphQLOutputType, depth: number): string {
  const named = getNamedType(type);
  if (isLeafType(named)) return '';
  if (!isObjectType(named)) throw new Error(`${String(named)} is no object`);
  const fields = Object.values(named.getFields()).filter((field) => depth < 7 || isLeafType(getNamedType(field.type)));
  const inner = ({ name, type: of }: GraphQLField<unknown, unknown>): string => {
    if (name === 'edges') return '{ cursor node { __typename } }';
    if (depth > 0 && ['Shop', 'Platform', 'Vehicle'].includes(getNamedType(of).name) && !isListType(getNullableType(of)))
      return ' { id nodeId }';
    return selection(of, depth + 1);
  };
  return `{ ${fields.map((field) => `${field.name} ${inner(field)}`).join(' ')} }`;
}
