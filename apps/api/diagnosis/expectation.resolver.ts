import { Mutation, Query, Resolver } from '@nestjs/graphql';
import { PlatformExpectation } from '#libs/contracts/index.js';
import { type GraphCall, GraphCaller, IdArg } from '../graphql/arguments.js';
import { objectTypeOf } from '../graphql/derive.js';

const PlatformExpectationType = objectTypeOf(PlatformExpectation);

@Resolver()
export class ExpectationResolver {
  @Query(() => PlatformExpectationType)
  platformExpectation(@GraphCaller() call: GraphCall, @IdArg() id: string) {
    return call.casebook.expectation.platformExpectation(call.actor, id);
  }

  @Mutation(() => PlatformExpectationType)
  learnExpectation(@GraphCaller() call: GraphCall, @IdArg() id: string) {
    return call.casebook.expectation.learnExpectation(call.actor, id);
  }
}
