import { Mutation, Query, Resolver } from '@nestjs/graphql';
import { NewPolicy, Policy, PolicyFilter, PolicyReport } from '#libs/contracts/index.js';
import { type GraphCall, GraphCaller, IdArg, Input, OptionalInput } from '../graphql/arguments.js';
import { objectTypeOf } from '../graphql/derive.js';

const PolicyType = objectTypeOf(Policy);
const PolicyReportType = objectTypeOf(PolicyReport);

@Resolver()
export class PoliciesResolver {
  @Query(() => [PolicyType])
  policies(@GraphCaller() call: GraphCall, @OptionalInput('filter', PolicyFilter) filter?: PolicyFilter) {
    return call.casebook.policies.listPolicies(call.actor, filter ?? {});
  }

  @Query(() => PolicyReportType)
  policyReport(@GraphCaller() call: GraphCall, @IdArg() id: string) {
    return call.casebook.policies.reportPolicy(call.actor, id);
  }

  @Mutation(() => PolicyType)
  setPolicy(@GraphCaller() call: GraphCall, @Input(NewPolicy) input: NewPolicy) {
    return call.casebook.policies.setPolicy(call.actor, input);
  }

  @Mutation(() => PolicyType)
  endPolicy(@GraphCaller() call: GraphCall, @IdArg() id: string) {
    return call.casebook.policies.endPolicy(call.actor, id);
  }
}
