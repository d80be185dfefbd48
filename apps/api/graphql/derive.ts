import { Field, Float, ID, InputType, Int, InterfaceType, ObjectType, registerEnumType } from '@nestjs/graphql';
import { z } from 'zod';

/**
 * GraphQL types derived from the zod schemas that REST uses. Call these at the top of a module, not inside a thunk: types must exist before
 * the schema is built. A zod kind that has no GraphQL form is an error at start, never a silent JSON blob.
 * Names of GraphQL enums cannot hold hyphens or dots: they are written as underscores there, and only there.
 */
type GraphType = new () => object;
type Leaf = GraphType | object;
interface Derived {
  readonly type: Leaf | [unknown];
  /** Whether null may stand for the value itself, or for elements of its list. */
  readonly nullable: boolean | 'items' | 'itemsAndList';
}
type Direction = 'output' | 'input';

interface Node {
  readonly def: {
    readonly type: string;
    readonly innerType?: Node;
    readonly element?: Node;
    readonly entries?: Readonly<Record<string, string>>;
    readonly format?: string;
    readonly checks?: readonly { readonly _zod: { readonly def: { readonly format?: string } } }[];
  };
  readonly _zod: { readonly parent?: Node };
  readonly shape?: Readonly<Record<string, Node>>;
  readonly format?: string | null;
  readonly description?: string;
}

/** Types that `node` finds again by their identifier. Listed here since a type must know what it is before the schema is built. */
export const NODE_TYPES = ['Case', 'ImportRun', 'Platform', 'Shop', 'Task', 'Vehicle'] as const;

/** Relay's global object identification. `id` is what REST calls it too; `nodeId` names the type beside it. */
@InterfaceType('Node', {
  description: 'Anything that node(id:) finds again',
  resolveType: ({ __typename }: { __typename: string }) => __typename,
})
export abstract class NodeType {
  @Field(() => ID)
  id!: string;

  @Field(() => ID, { description: 'The identifier with its type' })
  nodeId!: string;
}

@ObjectType('PageInfo', { description: 'Of a connection, as Relay defines it' })
class PageInfo {
  @Field(() => Boolean)
  hasNextPage!: boolean;

  @Field(() => Boolean, { description: 'Always false: pages lead forward' })
  hasPreviousPage!: boolean;

  @Field(() => String, { nullable: true })
  startCursor!: string | null;

  @Field(() => String, { nullable: true })
  endCursor!: string | null;
}

/** A page of a list is a Relay connection over GraphQL: `edges` and `pageInfo` beside the `data` and `next` that REST has. */
function addConnection(made: GraphType, name: string, node: Node): void {
  const item = node.shape!['data']!.def.element!;
  const edge = { [`${name}Edge`]: class {} }[`${name}Edge`] as GraphType;
  Field(() => String)(edge.prototype as object, 'cursor');
  Field(() => classOf(item, 'output'))(edge.prototype as object, 'node');
  ObjectType(`${name}Edge`)(edge);
  Field(() => [edge])(made.prototype as object, 'edges');
  Field(() => PageInfo)(made.prototype as object, 'pageInfo');
}

const isPage = (id: string, node: Node): boolean =>
  id.endsWith('Page') && node.shape?.['data'] !== undefined && node.shape['next'] !== undefined;

const classes = new Map<string, GraphType>();
const enums = new Map<string, object>();

export const objectTypeOf = (schema: z.ZodType): GraphType => classOf(schema as unknown as Node, 'output');
export const inputTypeOf = (schema: z.ZodType): GraphType => classOf(schema as unknown as Node, 'input');

/** The identity of a schema; a copy made by `.describe()` carries its original's. */
function idOf(node: Node): string | undefined {
  const id = z.globalRegistry.get(node as unknown as z.ZodType)?.id;
  return id ?? (node._zod.parent ? idOf(node._zod.parent) : undefined);
}

function classOf(node: Node, direction: Direction): GraphType {
  const id = idOf(node);
  if (!id || !node.shape) throw new Error('only object schemas with an identity become GraphQL types');
  const page = direction === 'output' && isPage(id, node);
  const name = direction === 'input' ? `${id}Input` : page ? id.replace(/Page$/, 'Connection') : id;
  const known = classes.get(name);
  if (known) return known;
  const made = { [name]: class {} }[name] as GraphType;
  classes.set(name, made);
  for (const [key, field] of Object.entries(node.shape)) {
    const { type, nullable } = derive(field, direction, `${name}.${key}`);
    const description = field.description;
    Field(() => type as GraphType, { nullable, ...(description ? { description } : {}) })(made.prototype as object, key);
  }
  const description = z.globalRegistry.get(node as unknown as z.ZodType)?.description;
  const options = description ? { description } : {};
  if (direction === 'input') InputType(name, options)(made);
  else if ((NODE_TYPES as readonly string[]).includes(id)) ObjectType(name, { ...options, implements: () => [NodeType] })(made);
  else ObjectType(name, options)(made);
  if (page) addConnection(made, id.replace(/Page$/, ''), node);
  return made;
}

function derive(node: Node, direction: Direction, where: string): Derived {
  switch (node.def.type) {
    case 'optional':
    case 'nullable': {
      const { type, nullable } = derive(node.def.innerType!, direction, where);
      return { type, nullable: typeof nullable === 'string' ? 'itemsAndList' : true };
    }
    case 'array': {
      const inner = derive(node.def.element!, direction, where);
      return { type: [inner.type], nullable: inner.nullable === false ? false : 'items' };
    }
    case 'object':
      return { type: classOf(node, direction), nullable: false };
    case 'enum':
      return { type: enumOf(node, where), nullable: false };
    case 'boolean':
      return { type: Boolean, nullable: false };
    case 'number':
      return { type: isInt(node) ? Int : Float, nullable: false };
    case 'string':
      return { type: stringFormat(node) === 'uuid' ? ID : String, nullable: false };
    default:
      throw new Error(`${where}: a zod schema of kind "${node.def.type}" has no GraphQL form`);
  }
}

const stringFormat = (node: Node) => node.format ?? node.def.format ?? null;

function isInt(node: Node): boolean {
  const formats = [node.format ?? node.def.format, ...(node.def.checks ?? []).map((check) => check._zod.def.format)];
  return formats.some((format) => format === 'safeint' || format === 'int32');
}

function enumOf(node: Node, where: string): object {
  const id = idOf(node);
  if (!id) throw new Error(`${where}: an enum needs an identity`);
  const known = enums.get(id);
  if (known) return known;
  const values = Object.fromEntries(Object.values(node.def.entries ?? {}).map((value) => [value.replace(/[^A-Za-z0-9_]/g, '_'), value]));
  registerEnumType(values, { name: id });
  enums.set(id, values);
  return values;
}
