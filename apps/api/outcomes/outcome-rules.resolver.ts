import { Mutation, Query, Resolver } from '@nestjs/graphql';
import { NewOutcomeRules, OutcomeRules } from '#libs/contracts/index.js';
import { type GraphCall, GraphCaller, Input } from '../graphql/arguments.js';
import { objectTypeOf } from '../graphql/derive.js';

const OutcomeRulesType = objectTypeOf(OutcomeRules);

@Resolver()
export class OutcomeRulesResolver {
  @Query(() => OutcomeRulesType)
  outcomeRules(@GraphCaller() call: GraphCall) {
    return call.casebook.outcomeRules.outcomeRules(call.actor);
  }

  @Mutation(() => OutcomeRulesType)
  setOutcomeRules(@GraphCaller() call: GraphCall, @Input(NewOutcomeRules) input: NewOutcomeRules) {
    return call.casebook.outcomeRules.setOutcomeRules(call.actor, input);
  }
}
