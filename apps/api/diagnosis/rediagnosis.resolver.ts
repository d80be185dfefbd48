import { Mutation, Query, Resolver } from '@nestjs/graphql';
import { ChangeFilter, Rediagnosis, RediagnosisRequest } from '#libs/contracts/index.js';
import { After, First, type GraphCall, GraphCaller, IdArg, OptionalInput } from '../graphql/arguments.js';
import { objectTypeOf } from '../graphql/derive.js';
import { RediagnosisChangePage, RediagnosisPage } from './rediagnosis.controller.js';

const RediagnosisType = objectTypeOf(Rediagnosis);
const RediagnosisPageType = objectTypeOf(RediagnosisPage);
const ChangePageType = objectTypeOf(RediagnosisChangePage);

@Resolver()
export class RediagnosisResolver {
  @Query(() => RediagnosisPageType)
  rediagnoses(@GraphCaller() call: GraphCall, @First() first?: number, @After() after?: string) {
    return call.casebook.rediagnosis.listRediagnoses(call.actor, { first, after });
  }

  @Query(() => RediagnosisType)
  rediagnosis(@GraphCaller() call: GraphCall, @IdArg() id: string) {
    return call.casebook.rediagnosis.getRediagnosis(call.actor, id);
  }

  @Query(() => ChangePageType)
  rediagnosisChanges(
    @GraphCaller() call: GraphCall,
    @IdArg() id: string,
    @OptionalInput('filter', ChangeFilter) filter?: ChangeFilter,
    @First() first?: number,
    @After() after?: string,
  ) {
    return call.casebook.rediagnosis.listChanges(call.actor, id, filter ?? {}, { first, after });
  }

  @Mutation(() => RediagnosisType)
  requestRediagnosis(@GraphCaller() call: GraphCall, @OptionalInput('input', RediagnosisRequest) input?: RediagnosisRequest) {
    return call.casebook.rediagnosis.requestRediagnosis(call.actor, input ?? {});
  }
}
