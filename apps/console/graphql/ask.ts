import { currentKey } from '../client/key.ts';

export interface Reply {
  readonly status: number;
  readonly body: unknown;
  readonly milliseconds: number;
}

/** One request to /graphql with the key of this tab. */
export async function ask(query: string, variables: unknown): Promise<Reply> {
  const key = currentKey();
  const began = performance.now();
  const response = await fetch('/graphql', {
    method: 'POST',
    headers: {
      'content-type': 'application/json',
      ...(key === null ? {} : { authorization: `Bearer ${key}` }),
    },
    body: JSON.stringify({ query, variables }),
  });
  const body: unknown = await response.json();
  return { status: response.status, body, milliseconds: performance.now() - began };
}

interface TypeRef {
  readonly kind: string;
  readonly name: string | null;
  readonly ofType: TypeRef | null;
}
interface Described {
  readonly name: string;
  readonly description: string | null;
}
export interface Field extends Described {
  readonly type: TypeRef;
  readonly args?: readonly (Described & { readonly type: TypeRef })[];
}
export interface SchemaType extends Described {
  readonly kind: string;
  readonly fields: readonly Field[] | null;
  readonly inputFields: readonly Field[] | null;
  readonly enumValues: readonly Described[] | null;
}
export interface Schema {
  readonly queryType: { readonly name: string };
  readonly mutationType: { readonly name: string } | null;
  readonly types: readonly SchemaType[];
}

const REF = 'kind name ofType { kind name ofType { kind name ofType { kind name } } }';
const INTROSPECTION = `{ __schema { queryType { name } mutationType { name } types { kind name description
  fields { name description type { ${REF} } args { name description type { ${REF} } } }
  inputFields { name description type { ${REF} } }
  enumValues { name description } } } }`;

/** The schema as this key may read it. @throws Error when the server does not describe itself to it. */
export async function describedSchema(): Promise<Schema> {
  const { body } = await ask(INTROSPECTION, {});
  const schema = (body as { data?: { __schema?: Schema } }).data?.__schema;
  if (!schema) throw new Error('The server did not describe its schema to this key.');
  return schema;
}

/** A type as it is written, e.g. [CaseSummary!]!, with the name of the type inside. */
export function written(type: TypeRef): { readonly text: string; readonly inner: string } {
  if (type.kind === 'NON_NULL') {
    const { text, inner } = written(type.ofType!);
    return { text: `${text}!`, inner };
  }
  if (type.kind === 'LIST') {
    const { text, inner } = written(type.ofType!);
    return { text: `[${text}]`, inner };
  }
  return { text: type.name ?? '', inner: type.name ?? '' };
}
