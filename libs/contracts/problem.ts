import { z } from 'zod';

/** Closed kinds of refusal and their HTTP status. Anything else is a bug: 500 with the request's identity. */
export const STATUS_OF_KIND = {
  unauthenticated: 401,
  forbidden: 403,
  not_found: 404,
  conflict: 409,
  precondition_failed: 412,
  too_large: 413,
  unsupported: 415,
  invalid: 422,
  precondition_required: 428,
  limited: 429,
  malformed: 400,
  method: 405,
  timed_out: 408,
  headers_too_large: 431,
  unavailable: 503,
} as const;
export type ProblemKind = keyof typeof STATUS_OF_KIND;

/** One fault of a request: where it is, what it is, and how to mend it. */
export const ProblemIssue = z
  .strictObject({
    pointer: z.string().describe('JSON pointer into the body, or the name of the parameter'),
    code: z.string(),
    detail: z.string(),
    remedy: z.string().nullable(),
  })
  .meta({ id: 'ProblemIssue' });
export type ProblemIssue = z.infer<typeof ProblemIssue>;

/** RFC 9457 problem details as this service writes them. */
export const Problem = z
  .strictObject({
    type: z.string().describe('Address of a page on this server that explains the problem'),
    title: z.string(),
    status: z.int(),
    detail: z.string(),
    instance: z.string().nullable(),
    code: z.string(),
    errors: z.array(ProblemIssue),
    retryable: z.boolean(),
    traceId: z.string(),
  })
  .meta({ id: 'Problem' });
export type Problem = z.infer<typeof Problem>;

/**
 * Base of every refusal a caller can act on. One subclass a condition lives in the feature that knows it;
 * `detail` and `issues` are public, anything internal goes into `cause`.
 */
export abstract class DomainError extends Error {
  abstract readonly kind: ProblemKind;
  abstract readonly code: string;
  readonly issues: readonly ProblemIssue[];
  /** Seconds after which trying again makes sense, where that is known. */
  readonly retryAfterSeconds: number | null = null;

  constructor(detail: string, issues: readonly ProblemIssue[] = [], options?: { cause?: unknown }) {
    super(detail, options);
    this.name = new.target.name;
    this.issues = issues;
  }
}
