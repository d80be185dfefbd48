import type { z } from 'zod';
import { DomainError, type ProblemIssue } from '#libs/contracts/index.js';
import { nearest } from '#libs/units/index.js';

/** A request whose shape or values do not fit: every fault at once, each with its place and remedy. */
export class InvalidInput extends DomainError {
  readonly kind = 'invalid' as const;
  readonly code = 'request/invalid';
  constructor(issues: readonly ProblemIssue[]) {
    super(
      issues.length === 1
        ? 'One value of the request does not fit; see errors.'
        : `${issues.length} values of the request do not fit; see errors.`,
      issues,
    );
  }
}

interface SchemaIssue {
  readonly message: string;
  readonly code?: string;
  readonly path: readonly PropertyKey[];
  readonly keys?: readonly string[];
  readonly values?: readonly unknown[];
  readonly input?: unknown;
}

/** The value as the schema wants it. @throws InvalidInput with every fault, JSON pointers and a guess at mistyped names. */
export function parseInput<S extends z.ZodType>(schema: S, value: unknown): z.output<S> {
  const parsed = schema.safeParse(value);
  if (parsed.success) return parsed.data;
  throw invalidBody(parsed.error, schema, value);
}

/** zod's issues as problem issues. */
export function invalidBody(error: z.ZodError, schema: z.ZodType, value: unknown): InvalidInput {
  return new InvalidInput((error.issues as readonly SchemaIssue[]).flatMap((issue) => toIssues(issue, schema, value)));
}

const pointerOf = (path: readonly PropertyKey[]) =>
  path.map((part) => `/${String(part).replaceAll('~', '~0').replaceAll('/', '~1')}`).join('');

function toIssues(issue: SchemaIssue, schema: z.ZodType, value: unknown): ProblemIssue[] {
  const code = `request/${issue.code ?? 'invalid'}`;
  if (issue.code === 'unrecognized_keys' && issue.keys) {
    const known = fieldsAt(schema, issue.path);
    return issue.keys.map((key) => {
      const meant = nearest(key, known);
      return {
        pointer: pointerOf([...issue.path, key]),
        code,
        detail: `There is no field "${key}" here.`,
        remedy: meant ? `Did you mean "${meant}"?` : `Known fields: ${known.join(', ')}.`,
      };
    });
  }
  const pointer = pointerOf(issue.path);
  if (issue.code === 'invalid_value' && issue.values) {
    const given = valueAt(value, issue.path);
    const words = issue.values.map(String);
    const meant = typeof given === 'string' ? nearest(given, words) : null;
    const list = `Use one of: ${words.slice(0, 60).join(', ')}.`;
    return [{ pointer, code, detail: issue.message.slice(0, 200), remedy: meant ? `Did you mean "${meant}"? ${list}` : list }];
  }
  return [{ pointer, code, detail: issue.message, remedy: null }];
}

function valueAt(value: unknown, path: readonly PropertyKey[]): unknown {
  let at = value;
  for (const part of path) {
    if (typeof at !== 'object' || at === null) return undefined;
    at = (at as Record<PropertyKey, unknown>)[part];
  }
  return at;
}

interface SchemaNode {
  readonly def: { readonly type: string; readonly innerType?: SchemaNode; readonly element?: SchemaNode };
  readonly shape?: Readonly<Record<string, SchemaNode>>;
}

/** Names of the fields an object schema has at a path; none where the path does not lead to an object. */
function fieldsAt(schema: z.ZodType, path: readonly PropertyKey[]): string[] {
  let node: SchemaNode | undefined = unwrapped(schema as unknown as SchemaNode);
  for (const part of path) {
    if (node?.def.type === 'array') node = unwrapped(node.def.element);
    else node = unwrapped(node?.shape?.[String(part)]);
  }
  return Object.keys(node?.shape ?? {});
}

function unwrapped(node: SchemaNode | undefined): SchemaNode | undefined {
  let at = node;
  while (at && (at.def.type === 'optional' || at.def.type === 'nullable')) at = at.def.innerType;
  return at;
}
