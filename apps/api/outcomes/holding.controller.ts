import { Controller, Get, Query } from '@nestjs/common';
import { HoldingAnswer, HoldingQuestion } from '#libs/contracts/index.js';
import { Call, Caller } from '../http/call.js';
import { Operation } from '../http/operation.js';

@Controller('v1/outcomes')
export class HoldingController {
  @Get('holding-odds')
  @Operation({
    id: 'holdingOdds',
    summary: 'How long each way to repair a fault would hold here, and what it would have cost',
    permission: 'outcomes:read',
    query: HoldingQuestion,
    queryExample: { shopId: '0197a2b4-7c00-7000-8000-000000000001', fault: 'filter-cartridge' },
    reply: HoldingAnswer,
  })
  holdingOdds(@Caller() call: Call, @Query({ schema: HoldingQuestion }) query: HoldingQuestion) {
    return call.casebook.holding.holdingOdds(call.actor, query);
  }
}
