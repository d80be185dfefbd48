import { Mutation, Resolver } from '@nestjs/graphql';
import { RebuildOrder, Task } from '#libs/contracts/index.js';
import { type GraphCall, GraphCaller, OptionalInput } from '../graphql/arguments.js';
import { objectTypeOf } from '../graphql/derive.js';

const TaskType = objectTypeOf(Task);

@Resolver()
export class RebuildResolver {
  @Mutation(() => TaskType)
  requestRebuild(@GraphCaller() call: GraphCall, @OptionalInput('input', RebuildOrder) input?: RebuildOrder) {
    return call.casebook.rebuilds.requestRebuild(call.actor, input ?? {});
  }
}
