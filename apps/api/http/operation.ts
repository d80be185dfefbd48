import { applyDecorators, SetMetadata } from '@nestjs/common';
import type { z } from 'zod';
import type { Permission } from '#libs/contracts/index.js';
import { type Deprecation, requireNotice } from './deprecation.js';

/** What the API description says of one route beside what its schemas already say. */
export interface OperationFacts {
  readonly id: string;
  readonly summary: string;
  readonly permission?: Permission;
  readonly reply: z.ZodType;
  readonly status?: 200 | 201 | 202;
  readonly body?: z.ZodType;
  readonly query?: z.ZodType;
  readonly params?: Readonly<Record<string, z.ZodType>>;
  /** Needs an Idempotency-Key. */
  readonly creates?: boolean;
  /** Takes If-Match: required, or only honoured when sent. */
  readonly ifMatch?: 'required' | 'optional';
  /** Concerns the session of a cookie, also while nobody has signed in at its device. */
  readonly sessionOnly?: boolean;
  /** The body is a file of cases, handed on as it arrives. */
  readonly file?: boolean;
  /** Media type of an answer that is not JSON. */
  readonly replyType?: 'text/csv' | 'application/x-ndjson' | 'text/event-stream' | 'image/*';
  readonly bodyType?: 'application/json' | 'application/merge-patch+json';
  readonly example?: unknown;
  /** The answer holds a secret that was just made. */
  readonly secret?: boolean;
  /** It will end; its twin of GraphQL says so by `deprecationReason`. */
  readonly deprecated?: Deprecation;
  /** Needed where a query parameter is required. */
  readonly queryExample?: Readonly<Record<string, string>>;
}

export interface DescribedOperation extends OperationFacts {
  readonly controller: object;
  readonly handler: string;
}

/** Key under which a handler holds its OperationFacts. */
export const FACTS = 'coolback:operation';

const OPERATIONS: DescribedOperation[] = [];

/** Describes a route for OpenAPI. The path and method are read from Nest's own decorators. */
export function Operation(facts: OperationFacts): MethodDecorator {
  if (facts.deprecated) requireNotice(facts.id, facts.deprecated);
  return applyDecorators(SetMetadata(FACTS, facts), (target: object, key?: string | symbol) => {
    OPERATIONS.push({ ...facts, controller: target.constructor, handler: String(key) });
  });
}

export function describedOperations(): readonly DescribedOperation[] {
  return OPERATIONS;
}
