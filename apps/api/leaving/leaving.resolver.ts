import { Mutation, Resolver } from '@nestjs/graphql';
import { Deleted } from '#libs/contracts/index.js';
import { type GraphCall, GraphCaller, IdArg } from '../graphql/arguments.js';
import { objectTypeOf } from '../graphql/derive.js';

const DeletedType = objectTypeOf(Deleted);

@Resolver()
export class LeavingResolver {
  @Mutation(() => DeletedType)
  deleteVehicle(@GraphCaller() call: GraphCall, @IdArg() id: string) {
    return call.casebook.leaving.deleteVehicle(call.actor, id);
  }
}
