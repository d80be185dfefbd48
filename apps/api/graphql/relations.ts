import { Field } from '@nestjs/graphql';
import DataLoader from 'dataloader';
import type { GraphQLSchema } from 'graphql';
import { isObjectType } from 'graphql';
import type { z } from 'zod';
import { type Actor, type Casebook, cursorsOf } from '#libs/casebook/index.js';
import { Case, CaseSummary, type Page, Platform, Policy, Shop, Vehicle } from '#libs/contracts/index.js';
import type { GraphCall } from './arguments.js';
import { NODE_TYPES, objectTypeOf } from './derive.js';

/** One thing read by its identifier, many in one statement, for as long as one request lasts. */
export interface Loaders {
  readonly shop: DataLoader<string, Shop | null>;
  readonly platform: DataLoader<string, Platform | null>;
  readonly vehicle: DataLoader<string, Vehicle | null>;
}

export function newLoaders(casebook: Casebook, actor: Actor): Loaders {
  const many = <T extends { readonly id: string }>(read: (actor: Actor, ids: readonly string[]) => Promise<T[]>) =>
    new DataLoader<string, T | null>(
      async (ids) => {
        const found = new Map((await read(actor, ids)).map((one) => [one.id, one]));
        return ids.map((id) => found.get(id) ?? null);
      },
      { maxBatchSize: 500 },
    );
  return {
    shop: many((who, ids) => casebook.shops.shopsByIds(who, ids)),
    platform: many((who, ids) => casebook.platforms.platformsByIds(who, ids)),
    vehicle: many((who, ids) => casebook.vehicles.vehiclesByIds(who, ids)),
  };
}

const READ: Readonly<Record<keyof Loaders, z.ZodType>> = { shop: Shop, platform: Platform, vehicle: Vehicle };

/** Which things lead to which others: `shop` of a case by its `shopId`. */
const RELATIONS: readonly (readonly [z.ZodType, string, readonly (keyof Loaders)[]])[] = [
  [Case, 'Case', ['shop', 'platform', 'vehicle']],
  [CaseSummary, 'CaseSummary', ['shop', 'platform', 'vehicle']],
  [Vehicle, 'Vehicle', ['platform']],
  [Policy, 'Policy', ['platform']],
];
for (const [schema, , fields] of RELATIONS) {
  const { prototype } = objectTypeOf(schema);
  for (const field of fields) {
    const type = objectTypeOf(READ[field]);
    Field(() => type, { nullable: true, description: 'Null where it is not named, not there, or not for this key' })(prototype, field);
  }
}

const NAMES = new Set(RELATIONS.flatMap(([, type, fields]) => fields.map((field) => `${type}.${field}`)));
export const isRelation = (type: string, field: string): boolean => NAMES.has(`${type}.${field}`);

/**
 * Gives the fields that no service answers their resolvers: relations, `nodeId`, and edges of connections. On the built schema, as plain functions:
 * the framework's own would go through its injector once a row.
 */
export function resolveDerived(schema: GraphQLSchema): void {
  for (const [, type, fields] of RELATIONS) {
    for (const field of fields) {
      setResolver(schema, type, field, (parent, _arguments, { call }) => {
        const id = parent[`${field}Id`];
        return typeof id === 'string' ? (call.loaders[field] as DataLoader<string, unknown>).load(id) : null;
      });
    }
  }
  for (const type of NODE_TYPES) setResolver(schema, type, 'nodeId', ({ id }) => `${type}:${String(id)}`);
  for (const type of Object.values(schema.getTypeMap())) {
    if (!isObjectType(type) || !type.name.endsWith('Connection')) continue;
    setResolver(schema, type.name, 'edges', (parent) => {
      const page = parent as unknown as Page<unknown>;
      return cursorsOf(page).map((cursor, i) => ({ cursor, node: page.data[i] }));
    });
    setResolver(schema, type.name, 'pageInfo', (parent) => {
      const page = parent as unknown as Page<unknown>;
      const cursors = cursorsOf(page);
      return {
        hasNextPage: page.next !== null,
        hasPreviousPage: false,
        startCursor: cursors[0] ?? null,
        endCursor: cursors.at(-1) ?? null,
      };
    });
  }
}

type Resolve = (parent: Readonly<Record<string, unknown>>, given: unknown, context: { readonly call: GraphCall }) => unknown;

function setResolver(schema: GraphQLSchema, typeName: string, field: string, resolve: Resolve): void {
  const type = schema.getType(typeName);
  const found = isObjectType(type) ? type.getFields()[field] : undefined;
  if (!found) throw new Error(`${typeName}.${field} is not in the schema`);
  found.resolve = resolve as never;
}
