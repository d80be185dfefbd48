import { Query, Resolver } from '@nestjs/graphql';
import { HoldingAnswer, HoldingQuestion } from '#libs/contracts/index.js';
import { type GraphCall, GraphCaller, Input } from '../graphql/arguments.js';
import { objectTypeOf } from '../graphql/derive.js';

const HoldingAnswerType = objectTypeOf(HoldingAnswer);

@Resolver()
export class HoldingResolver {
  @Query(() => HoldingAnswerType)
  holdingOdds(@GraphCaller() call: GraphCall, @Input(HoldingQuestion) input: HoldingQuestion) {
    return call.casebook.holding.holdingOdds(call.actor, input);
  }
}
