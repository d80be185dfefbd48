import { Mutation, Query, Resolver } from '@nestjs/graphql';
import { PatternBoard, PatternQuestion, Task } from '#libs/contracts/index.js';
import { type GraphCall, GraphCaller, OptionalInput } from '../graphql/arguments.js';
import { objectTypeOf } from '../graphql/derive.js';

const PatternBoardType = objectTypeOf(PatternBoard);
const TaskType = objectTypeOf(Task);

@Resolver()
export class PatternsResolver {
  @Query(() => PatternBoardType)
  patterns(@GraphCaller() call: GraphCall, @OptionalInput('question', PatternQuestion) question?: PatternQuestion) {
    return call.casebook.patterns.patterns(call.actor, question ?? {});
  }

  @Mutation(() => TaskType)
  requestPatternScoring(@GraphCaller() call: GraphCall) {
    return call.casebook.patterns.requestScoring(call.actor);
  }
}
