import { Mutation, Query, Resolver } from '@nestjs/graphql';
import { Deleted, Photograph } from '#libs/contracts/index.js';
import { type GraphCall, GraphCaller, IdArg } from '../graphql/arguments.js';
import { objectTypeOf } from '../graphql/derive.js';

const PhotographType = objectTypeOf(Photograph);
const DeletedType = objectTypeOf(Deleted);

/** Pictures travel over REST alone; what is known about them is here too. */
@Resolver()
export class PhotographsResolver {
  @Query(() => [PhotographType])
  photographs(@GraphCaller() call: GraphCall, @IdArg('caseId') caseId: string) {
    return call.casebook.photographs.listPhotographs(call.actor, caseId);
  }

  @Mutation(() => DeletedType)
  removePhotograph(@GraphCaller() call: GraphCall, @IdArg('caseId') caseId: string, @IdArg('id') id: string) {
    return call.casebook.photographs.removePhotograph(call.actor, caseId, id);
  }
}
