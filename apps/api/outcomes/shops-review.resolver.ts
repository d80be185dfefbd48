import { Query, Resolver } from '@nestjs/graphql';
import {
  ChargeAccuracy,
  PeriodQuestion,
  RecordQuality,
  RefrigerantBalance,
  RefrigerantQuestion,
  ReturnCosts,
  ShopReview,
  ShopReviewQuestion,
} from '#libs/contracts/index.js';
import { type GraphCall, GraphCaller, OptionalInput } from '../graphql/arguments.js';
import { objectTypeOf } from '../graphql/derive.js';

const ShopReviewType = objectTypeOf(ShopReview);
const ReturnCostsType = objectTypeOf(ReturnCosts);
const RecordQualityType = objectTypeOf(RecordQuality);
const ChargeAccuracyType = objectTypeOf(ChargeAccuracy);
const RefrigerantBalanceType = objectTypeOf(RefrigerantBalance);

@Resolver()
export class ShopsReviewResolver {
  @Query(() => ShopReviewType)
  reviewShops(@GraphCaller() call: GraphCall, @OptionalInput('question', ShopReviewQuestion) question?: ShopReviewQuestion) {
    return call.casebook.shopsReview.reviewShops(call.actor, question ?? {});
  }

  @Query(() => ReturnCostsType)
  returnCosts(@GraphCaller() call: GraphCall, @OptionalInput('question', PeriodQuestion) question?: PeriodQuestion) {
    return call.casebook.shopsReview.returnCosts(call.actor, question ?? {});
  }

  @Query(() => RecordQualityType)
  recordQuality(@GraphCaller() call: GraphCall, @OptionalInput('question', PeriodQuestion) question?: PeriodQuestion) {
    return call.casebook.shopsReview.recordQuality(call.actor, question ?? {});
  }

  @Query(() => ChargeAccuracyType)
  chargeAccuracy(@GraphCaller() call: GraphCall, @OptionalInput('question', PeriodQuestion) question?: PeriodQuestion) {
    return call.casebook.shopsReview.chargeAccuracy(call.actor, question ?? {});
  }

  @Query(() => RefrigerantBalanceType)
  refrigerantBalance(@GraphCaller() call: GraphCall, @OptionalInput('question', RefrigerantQuestion) question?: RefrigerantQuestion) {
    return call.casebook.shopsReview.refrigerantBalance(call.actor, question ?? {});
  }
}
