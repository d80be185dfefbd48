import {
  type DocumentNode,
  type FragmentDefinitionNode,
  type GraphQLSchema,
  getNamedType,
  getNullableType,
  isInterfaceType,
  isListType,
  isObjectType,
  Kind,
  type OperationDefinitionNode,
  type SelectionSetNode,
  type ValueNode,
} from 'graphql';
import { DomainError } from '#libs/contracts/index.js';
import { isRelation } from './relations.js';

/** What one document may hold. A query of everything a case has stays within half of each. */
export const LIMITS = {
  characters: 60_000,
  tokens: 2_000,
  depth: 10,
  introspectionDepth: 16,
  aliases: 15,
  directives: 10,
  rootFields: 5,
  fields: 2_000,
  nodes: 2_000,
} as const;

/** Points: one for a hundred things read, five for a change. A list of twenty over REST costs one, too. */
const NODES_A_POINT = 100;
const POINTS_OF_A_CHANGE = 5;
const DEFAULT_PAGE = 20;
/** What a list without a page of its own is taken for. */
const PLAIN_LIST = 50;
const MAX_PAGE = 100;

export class DocumentTooLarge extends DomainError {
  readonly kind = 'malformed' as const;
  readonly code = 'graphql/too_large';
  constructor(what: keyof typeof LIMITS, found: number) {
    const limit = LIMITS[what];
    const words = { rootFields: 'root fields', introspectionDepth: 'levels of introspection', depth: 'levels of depth' } as const;
    const name = what in words ? words[what as keyof typeof words] : what;
    const many = found > limit * 100 ? `far more than ${limit}` : String(found);
    super(`The query has ${many} ${name}; the limit is ${limit}.`, [
      {
        pointer: '/query',
        code: 'graphql/too_large',
        detail: `At most ${limit} ${name}.`,
        remedy: 'Ask in several requests, with smaller pages or fewer fields.',
      },
    ]);
  }
}

export interface Cost {
  readonly nodes: number;
  readonly points: number;
}

interface Shape {
  readonly depth: number;
  readonly introspectionDepth: number;
  readonly aliases: number;
  readonly fields: number;
}
const NOTHING: Shape = { depth: 0, introspectionDepth: 0, aliases: 0, fields: 0 };

const fragmentsOf = (document: DocumentNode): ReadonlyMap<string, FragmentDefinitionNode> =>
  new Map(document.definitions.flatMap((one) => (one.kind === Kind.FRAGMENT_DEFINITION ? [[one.name.value, one]] : [])));

/**
 * Refuses a document by its shape alone, before it is validated: nothing here needs a type, and everything is linear in the text. Aliases count
 * wherever they stand, also on `__typename`. A fragment counts each time it is spread. @throws DocumentTooLarge
 */
export function requireShape(document: DocumentNode, operation: OperationDefinitionNode): void {
  const fragments = fragmentsOf(document);
  const known = new Map<string, Shape>();
  const open = new Set<string>();
  const ofSet = (set: SelectionSetNode | undefined, inIntrospection: boolean): Shape => {
    let total = NOTHING;
    for (const selection of set?.selections ?? []) {
      let part: Shape;
      if (selection.kind === Kind.FIELD) {
        const introspects = inIntrospection || selection.name.value === '__schema' || selection.name.value === '__type';
        const inner = ofSet(selection.selectionSet, introspects);
        part = {
          depth: introspects ? inner.depth : inner.depth + 1,
          introspectionDepth: introspects ? inner.introspectionDepth + 1 : inner.introspectionDepth,
          aliases: inner.aliases + (selection.alias ? 1 : 0),
          fields: inner.fields + 1,
        };
      } else if (selection.kind === Kind.INLINE_FRAGMENT) part = ofSet(selection.selectionSet, inIntrospection);
      else part = ofFragment(selection.name.value, inIntrospection);
      total = {
        depth: Math.max(total.depth, part.depth),
        introspectionDepth: Math.max(total.introspectionDepth, part.introspectionDepth),
        aliases: total.aliases + part.aliases,
        fields: total.fields + part.fields,
      };
    }
    return total;
  };
  const ofFragment = (name: string, inIntrospection: boolean): Shape => {
    const key = `${name} ${inIntrospection}`;
    const kept = known.get(key);
    if (kept) return kept;
    // A fragment within itself is refused by validation; here it must only come to an end.
    if (open.has(key)) return NOTHING;
    open.add(key);
    const shape = ofSet(fragments.get(name)?.selectionSet, inIntrospection);
    open.delete(key);
    known.set(key, shape);
    return shape;
  };
  const { depth, introspectionDepth, aliases, fields } = ofSet(operation.selectionSet, false);
  const found = {
    depth,
    introspectionDepth,
    aliases,
    fields,
    directives: directives(document),
    rootFields: rootFields(operation, fragments),
  };
  for (const [what, count] of Object.entries(found) as [keyof typeof found, number][])
    if (count > LIMITS[what]) throw new DocumentTooLarge(what, count);
}

function directives(node: unknown): number {
  if (Array.isArray(node)) return node.reduce<number>((sum, one) => sum + directives(one), 0);
  if (typeof node !== 'object' || node === null) return 0;
  let count = (node as { kind?: string }).kind === Kind.DIRECTIVE ? 1 : 0;
  for (const [name, inner] of Object.entries(node)) if (name !== 'loc') count += directives(inner);
  return count;
}

function rootFields(operation: OperationDefinitionNode, fragments: ReadonlyMap<string, FragmentDefinitionNode>): number {
  const seen = new Set<string>();
  const count = (set: SelectionSetNode): number =>
    set.selections.reduce((sum, one) => {
      if (one.kind === Kind.FIELD) return sum + (one.name.value === '__typename' && !one.alias ? 0 : 1);
      if (one.kind === Kind.INLINE_FRAGMENT) return sum + count(one.selectionSet);
      const fragment = fragments.get(one.name.value);
      if (!fragment || seen.has(one.name.value)) return sum;
      seen.add(one.name.value);
      return sum + count(fragment.selectionSet);
    }, 0);
  return count(operation.selectionSet);
}

/**
 * How many things (nodes) a valid document can read at most, as a function of its variables: pages by `first`, lists of other things by a fixed guess,
 * one for each related thing of each. Parts of one thing (readings of a case) cost nothing of their own. Constant where no variable decides.
 */
export function costOf(
  document: DocumentNode,
  operation: OperationDefinitionNode,
  schema: GraphQLSchema,
): (variables: Readonly<Record<string, unknown>>) => Cost {
  const fragments = fragmentsOf(document);
  let asksVariables = false;
  const measure = (variables: Readonly<Record<string, unknown>>): Cost => {
    const known = new Map<string, number>();
    const numberOf = (node: ValueNode | undefined, otherwise: number): number => {
      if (node === undefined) return otherwise;
      if (node.kind === Kind.INT) return bounded(Number(node.value), otherwise);
      if (node.kind === Kind.LIST) return bounded(node.values.length, otherwise);
      if (node.kind !== Kind.VARIABLE) return otherwise;
      asksVariables = true;
      const value = variables[node.name.value];
      return bounded(Array.isArray(value) ? value.length : value, otherwise);
    };
    const ofSet = (set: SelectionSetNode | undefined, typeName: string, isRoot: boolean): number => {
      const type = schema.getType(typeName);
      if (!set || (!isObjectType(type) && !isInterfaceType(type))) return 0;
      let total = 0;
      for (const one of set.selections) {
        if (one.kind === Kind.INLINE_FRAGMENT) total += ofSet(one.selectionSet, one.typeCondition?.name.value ?? typeName, isRoot);
        else if (one.kind === Kind.FRAGMENT_SPREAD) total += ofFragment(one.name.value, isRoot);
        else {
          const field = type.getFields()[one.name.value];
          if (!field) continue;
          const inner = ofSet(one.selectionSet, getNamedType(field.type).name, false);
          const given = (name: string) => one.arguments?.find((argument) => argument.name.value === name)?.value;
          const paged = field.args.find(({ name }) => name === 'first' || name === 'limit' || name === 'ids')?.name;
          if (paged) total += numberOf(given(paged), DEFAULT_PAGE) * (1 + inner);
          else if (isRelation(typeName, one.name.value)) total += 1 + inner;
          else if (isRoot) total += (isListType(getNullableType(field.type)) ? PLAIN_LIST : 1) * (1 + inner);
          else total += inner;
        }
      }
      return total;
    };
    const ofFragment = (name: string, isRoot: boolean): number => {
      const kept = known.get(name);
      if (kept !== undefined) return kept;
      const fragment = fragments.get(name);
      const nodes = fragment ? ofSet(fragment.selectionSet, fragment.typeCondition.name.value, isRoot) : 0;
      known.set(name, nodes);
      return nodes;
    };
    const isChange = operation.operation === 'mutation';
    const root = isChange ? schema.getMutationType() : schema.getQueryType();
    const nodes = ofSet(operation.selectionSet, root!.name, true);
    const changes = isChange ? POINTS_OF_A_CHANGE * rootFields(operation, fragments) : 0;
    return { nodes, points: Math.max(1, changes + Math.ceil((isChange ? 0 : nodes) / NODES_A_POINT)) };
  };
  const constant = measure({});
  return asksVariables ? measure : () => constant;
}

const bounded = (value: unknown, otherwise: number): number =>
  typeof value === 'number' && Number.isInteger(value) && value >= 1 ? Math.min(value, MAX_PAGE) : otherwise;
