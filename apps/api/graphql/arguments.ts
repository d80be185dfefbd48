import { createParamDecorator, type ExecutionContext, type PipeTransform } from '@nestjs/common';
import { Args, GqlExecutionContext, ID, Int } from '@nestjs/graphql';
import { z } from 'zod';
import { type Actor, type Casebook, parseInput } from '#libs/casebook/index.js';
import { Id } from '#libs/contracts/index.js';
import { inputTypeOf } from './derive.js';
import type { Loaders } from './relations.js';

/** What a resolver works with: made once a request by the GraphQL context, after the key was checked. */
export interface GraphCall {
  readonly casebook: Casebook;
  readonly actor: Actor;
  readonly loaders: Loaders;
}

export const GraphCaller = createParamDecorator((_data: unknown, context: ExecutionContext): GraphCall => {
  return GqlExecutionContext.create(context).getContext<{ call: GraphCall }>().call;
});

class Parse implements PipeTransform {
  constructor(
    private readonly schema: z.ZodType,
    private readonly isOptional: boolean,
  ) {}
  transform(value: unknown): unknown {
    if (this.isOptional && (value === undefined || value === null)) return undefined;
    return parseInput(this.schema, plain(value));
  }
}

/** Input objects arrive without a prototype and with null for what was left out. Null is kept where the schema knows it. */
function plain(value: unknown): unknown {
  if (Array.isArray(value)) return value.map(plain);
  if (typeof value !== 'object' || value === null) return value;
  return Object.fromEntries(Object.entries(value).map(([key, inner]) => [key, plain(inner)]));
}

/** The `input` argument, validated by the schema REST uses. */
export function Input(schema: z.ZodType): ParameterDecorator {
  const type = inputTypeOf(schema);
  return Args('input', { type: () => type }, new Parse(schema, false));
}

/** A named optional argument of an input type. */
export function OptionalInput(name: string, schema: z.ZodType): ParameterDecorator {
  const type = inputTypeOf(schema);
  return Args(name, { type: () => type, nullable: true }, new Parse(schema, true));
}

export const IdArg = (name = 'id'): ParameterDecorator => Args(name, { type: () => ID }, new Parse(Id, false));
export const ExpectedVersion = (): ParameterDecorator =>
  Args('expectedVersion', { type: () => Int, nullable: true, description: 'The version that was read; a change to any other is refused' });
export const First = (): ParameterDecorator =>
  Args('first', { type: () => Int, nullable: true, description: '1 to 100; 20 when left out' }, new Parse(z.int().min(1).max(100), true));
export const After = (): ParameterDecorator => Args('after', { type: () => String, nullable: true }, new Parse(z.string().max(400), true));
