import type { z } from 'zod';
import { DomainError, type ProblemIssue } from '#libs/contracts/index.js';

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
  readonly path?: readonly (PropertyKey | { readonly key: PropertyKey })[] | undefined;
  readonly keys?: readonly string[];
  readonly values?: readonly unknown[];
}

/** zod's issues as problem issues with JSON pointers. */
export function invalidBody(error: { readonly issues: readonly SchemaIssue[] } | z.ZodError): InvalidInput {
  return new InvalidInput((error.issues as readonly SchemaIssue[]).map((issue) => toIssue(issue)));
}

export function toIssue(issue: SchemaIssue): ProblemIssue {
  const path = (issue.path ?? []).map((part) => String(typeof part === 'object' ? part.key : part));
  const pointer = path.length === 0 ? '' : `/${path.map((part) => part.replaceAll('~', '~0').replaceAll('/', '~1')).join('/')}`;
  return { pointer, code: `request/${issue.code ?? 'invalid'}`, detail: issue.message, remedy: remedyOf(issue) };
}

function remedyOf(issue: SchemaIssue): string | null {
  if (issue.code === 'invalid_value' && issue.values) return `Use one of: ${issue.values.slice(0, 40).map(String).join(', ')}.`;
  if (issue.code === 'unrecognized_keys' && issue.keys) return `Remove or rename: ${issue.keys.join(', ')}.`;
  return null;
}
