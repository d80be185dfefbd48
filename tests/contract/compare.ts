/**
 * What breaks a client between two OpenAPI documents. A request may not become narrower, an answer may not become wider or lose a field.
 * Announced freedoms that are no break: new operations, new optional inputs, new fields of answers, new words in enums of answers.
 */
export interface Schema {
  readonly $ref?: string;
  readonly type?: string | readonly string[];
  readonly anyOf?: readonly Schema[];
  readonly oneOf?: readonly Schema[];
  readonly enum?: readonly unknown[];
  readonly properties?: Readonly<Record<string, Schema>>;
  readonly required?: readonly string[];
  readonly items?: Schema;
  readonly additionalProperties?: boolean | Schema;
  readonly pattern?: string;
  readonly format?: string;
  readonly minimum?: number;
  readonly maximum?: number;
  readonly minLength?: number;
  readonly maxLength?: number;
  readonly minItems?: number;
  readonly maxItems?: number;
}
interface Parameter {
  readonly name: string;
  readonly in: string;
  readonly required?: boolean;
  readonly schema: Schema;
  readonly example?: unknown;
}
type Content = Readonly<Record<string, { readonly schema: Schema; readonly example?: unknown }>>;
export interface Operation {
  readonly operationId: string;
  readonly parameters?: readonly Parameter[];
  readonly requestBody?: { readonly required?: boolean; readonly content: Content };
  readonly responses: Readonly<Record<string, { readonly content?: Content }>>;
  readonly security?: readonly object[];
}
export interface Document {
  readonly paths: Readonly<Record<string, Readonly<Record<string, Operation>>>>;
  readonly components: { readonly schemas: Readonly<Record<string, Schema>> };
}

type Direction = 'request' | 'answer';
interface Walk {
  readonly before: Document;
  readonly after: Document;
  readonly direction: Direction;
  readonly found: Set<string>;
  readonly visited: Set<string>;
}

/** One sentence for each break, empty when every client of `before` works with `after`. */
export function breakingChanges(before: Document, after: Document): string[] {
  const found = new Set<string>();
  for (const [path, methods] of Object.entries(before.paths)) {
    for (const [method, old] of Object.entries(methods)) {
      const where = `${method.toUpperCase()} ${path}`;
      const now = after.paths[path]?.[method];
      if (!now) found.add(`${where}: the operation is gone`);
      else operationBreaks(where, old, now, before, after, found);
    }
  }
  return [...found].sort();
}

function operationBreaks(where: string, old: Operation, now: Operation, before: Document, after: Document, found: Set<string>): void {
  if (old.operationId !== now.operationId) found.add(`${where}: its operationId ${old.operationId} became ${now.operationId}`);
  if (old.security?.length === 0 && now.security?.length !== 0) found.add(`${where}: it needs a key now`);
  const request: Walk = { before, after, direction: 'request', found, visited: new Set() };
  const answer: Walk = { before, after, direction: 'answer', found, visited: new Set() };
  const named = (operation: Operation) => new Map((operation.parameters ?? []).map((one) => [`${one.in} ${one.name}`, one]));
  const parameters = named(now);
  for (const [name, parameter] of named(old)) {
    const kept = parameters.get(name);
    if (!kept) found.add(`${where}: the ${name} parameter is gone`);
    else {
      if (kept.required && !parameter.required) found.add(`${where}: the ${name} parameter became required`);
      schemaBreaks(parameter.schema, kept.schema, `${where} ${name}`, request);
    }
    parameters.delete(name);
  }
  for (const [name, parameter] of parameters) if (parameter.required) found.add(`${where}: the ${name} parameter is new and required`);
  if (now.requestBody?.required && !old.requestBody?.required) found.add(`${where}: a body became required`);
  contentBreaks(old.requestBody?.content ?? {}, now.requestBody?.content ?? {}, `${where} body`, request);
  for (const [status, response] of Object.entries(old.responses).filter(([status]) => status.startsWith('2'))) {
    const kept = now.responses[status];
    if (!kept) found.add(`${where}: the answer ${status} is gone`);
    else contentBreaks(response.content ?? {}, kept.content ?? {}, `${where} ${status}`, answer);
  }
}

function contentBreaks(old: Content, now: Content, where: string, walk: Walk): void {
  for (const [type, { schema }] of Object.entries(old)) {
    const kept = now[type];
    if (!kept) walk.found.add(`${where}: the media type ${type} is gone`);
    else schemaBreaks(schema, kept.schema, where, walk);
  }
}

function resolve(schema: Schema, document: Document): Schema {
  if (schema.$ref === undefined) return schema;
  const target = document.components.schemas[schema.$ref.replace('#/components/schemas/', '')];
  if (!target) throw new Error(`${schema.$ref} leads nowhere`);
  return resolve(target, document);
}

/** The alternatives of a schema; a list of types is one alternative for each. */
function branches(schema: Schema): readonly Schema[] {
  if (Array.isArray(schema.type)) return schema.type.map((type: string) => (type === 'null' ? { type } : { ...schema, type }));
  return schema.anyOf ?? schema.oneOf ?? [schema];
}

function schemaBreaks(oldGiven: Schema, nowGiven: Schema, where: string, walk: Walk): void {
  if (oldGiven.$ref !== undefined && nowGiven.$ref !== undefined) {
    const pair = `${oldGiven.$ref} ${nowGiven.$ref}`;
    if (walk.visited.has(pair)) return;
    walk.visited.add(pair);
  }
  const old = resolve(oldGiven, walk.before);
  const now = resolve(nowGiven, walk.after);
  // A union: what could be sent must find a branch that takes it, what can be answered a branch that was known.
  const [from, to] = walk.direction === 'request' ? [branches(old), branches(now)] : [branches(now), branches(old)];
  if (from.length > 1 || to.length > 1) {
    for (const one of from) {
      const attempts = to.map((other) => {
        const attempt: Walk = { ...walk, found: new Set(), visited: new Set(walk.visited) };
        schemaBreaks(...((walk.direction === 'request' ? [one, other] : [other, one]) as [Schema, Schema]), where, attempt);
        return attempt.found;
      });
      if (attempts.some((found) => found.size === 0)) continue;
      const gone = `${where}: ${one.type ?? one.$ref} ${walk.direction === 'request' ? 'is not taken any more' : 'may be answered now'}`;
      const nearest = one.type === 'null' ? undefined : attempts.find((_, i) => to[i]!.type === one.type && to[i]!.$ref === one.$ref);
      for (const sentence of nearest ?? [gone]) walk.found.add(sentence);
    }
    return;
  }
  if (
    old.type !== now.type &&
    !(walk.direction === 'request' ? old.type === 'integer' && now.type === 'number' : old.type === 'number' && now.type === 'integer')
  ) {
    walk.found.add(`${where}: ${old.type ?? 'anything'} became ${now.type ?? 'anything'}`);
    return;
  }
  if (walk.direction === 'request') requestBreaks(old, now, where, walk.found);
  propertyBreaks(old, now, where, walk);
  if (old.items && now.items) schemaBreaks(old.items, now.items, `${where}[]`, walk);
}

function propertyBreaks(old: Schema, now: Schema, where: string, walk: Walk): void {
  for (const [name, property] of Object.entries(old.properties ?? {})) {
    const kept = now.properties?.[name];
    if (!kept) walk.found.add(`${where}.${name}: it is gone`);
    else schemaBreaks(property, kept, `${where}.${name}`, walk);
    if (kept && walk.direction === 'answer' && old.required?.includes(name) && !now.required?.includes(name)) {
      walk.found.add(`${where}.${name}: it may be missing now`);
    }
  }
  if (walk.direction === 'answer') return;
  for (const name of now.required ?? []) if (!old.required?.includes(name)) walk.found.add(`${where}.${name}: it became required`);
}

/** Values that were taken and are not any more. */
function requestBreaks(old: Schema, now: Schema, where: string, found: Set<string>): void {
  if (old.enum === undefined && now.enum !== undefined) found.add(`${where}: only some words are taken now`);
  for (const word of old.enum ?? []) {
    if (now.enum !== undefined && !now.enum.includes(word)) found.add(`${where}: the word ${JSON.stringify(word)} is not taken any more`);
  }
  if (now.pattern !== undefined && now.pattern !== old.pattern) found.add(`${where}: its pattern changed`);
  if (now.format !== undefined && now.format !== old.format) found.add(`${where}: its format changed`);
  for (const bound of ['minimum', 'minLength', 'minItems'] as const) {
    if ((now[bound] ?? Number.NEGATIVE_INFINITY) > (old[bound] ?? Number.NEGATIVE_INFINITY)) found.add(`${where}: its ${bound} rose`);
  }
  for (const bound of ['maximum', 'maxLength', 'maxItems'] as const) {
    if ((now[bound] ?? Number.POSITIVE_INFINITY) < (old[bound] ?? Number.POSITIVE_INFINITY)) found.add(`${where}: its ${bound} fell`);
  }
  if (now.additionalProperties === false && old.additionalProperties !== false && old.type === 'object')
    found.add(`${where}: unknown names are not taken any more`);
}
