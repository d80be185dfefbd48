import { Controller, Get, Query } from '@nestjs/common';
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
import { Call, Caller } from '../http/call.js';
import { Operation } from '../http/operation.js';

@Controller('v1/outcomes')
export class ShopsReviewController {
  @Get('shops')
  @Operation({
    id: 'reviewShops',
    summary: "Returns of each shop's work against what its case mix explains, with its records first",
    permission: 'outcomes:read',
    query: ShopReviewQuestion,
    reply: ShopReview,
  })
  reviewShops(@Caller() call: Call, @Query({ schema: ShopReviewQuestion }) query: ShopReviewQuestion) {
    return call.casebook.shopsReview.reviewShops(call.actor, query);
  }

  @Get('return-costs')
  @Operation({
    id: 'returnCosts',
    summary: 'What returns cost, at the shop whose repair came back',
    permission: 'outcomes:read',
    query: PeriodQuestion,
    reply: ReturnCosts,
  })
  returnCosts(@Caller() call: Call, @Query({ schema: PeriodQuestion }) query: PeriodQuestion) {
    return call.casebook.shopsReview.returnCosts(call.actor, query);
  }

  @Get('record-quality')
  @Operation({
    id: 'recordQuality',
    summary: 'How well each shop proves and records',
    permission: 'outcomes:read',
    query: PeriodQuestion,
    reply: RecordQuality,
  })
  recordQuality(@Caller() call: Call, @Query({ schema: PeriodQuestion }) query: PeriodQuestion) {
    return call.casebook.shopsReview.recordQuality(call.actor, query);
  }

  @Get('charge-accuracy')
  @Operation({
    id: 'chargeAccuracy',
    summary: 'How near the specified charge each shop fills',
    permission: 'outcomes:read',
    query: PeriodQuestion,
    reply: ChargeAccuracy,
  })
  chargeAccuracy(@Caller() call: Call, @Query({ schema: PeriodQuestion }) query: PeriodQuestion) {
    return call.casebook.shopsReview.chargeAccuracy(call.actor, query);
  }

  @Get('refrigerant')
  @Operation({
    id: 'refrigerantBalance',
    summary: 'Refrigerant recovered and charged, by shop and month',
    permission: 'outcomes:read',
    query: RefrigerantQuestion,
    reply: RefrigerantBalance,
  })
  refrigerantBalance(@Caller() call: Call, @Query({ schema: RefrigerantQuestion }) query: RefrigerantQuestion) {
    return call.casebook.shopsReview.refrigerantBalance(call.actor, query);
  }
}
