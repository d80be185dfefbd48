import { Mutation, Query, Resolver } from '@nestjs/graphql';
import { Task, WatchBoard, WatchQuestion } from '#libs/contracts/index.js';
import { type GraphCall, GraphCaller, OptionalInput } from '../graphql/arguments.js';
import { objectTypeOf } from '../graphql/derive.js';

const WatchBoardType = objectTypeOf(WatchBoard);
const TaskType = objectTypeOf(Task);

@Resolver()
export class WatchesResolver {
  @Query(() => WatchBoardType)
  watches(@GraphCaller() call: GraphCall, @OptionalInput('question', WatchQuestion) question?: WatchQuestion) {
    return call.casebook.watches.watches(call.actor, question ?? {});
  }

  @Mutation(() => TaskType)
  requestWatchScoring(@GraphCaller() call: GraphCall) {
    return call.casebook.watches.requestScoring(call.actor);
  }
}
