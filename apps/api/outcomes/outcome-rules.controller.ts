import { Body, Controller, Get, Put } from '@nestjs/common';
import { NewOutcomeRules, OutcomeRules } from '#libs/contracts/index.js';
import { Call, Caller } from '../http/call.js';
import { Operation } from '../http/operation.js';
import { NEW_OUTCOME_RULES_EXAMPLE } from './outcomes.examples.js';

@Controller('v1/outcomes/rules')
export class OutcomeRulesController {
  @Get()
  @Operation({
    id: 'outcomeRules',
    summary:
      'How returns are told apart in every figure: what is one visit, how late a return counts, how long a vehicle is taken to be around',
    permission: 'outcomes:read',
    reply: OutcomeRules,
  })
  outcomeRules(@Caller() call: Call) {
    return call.casebook.outcomeRules.outcomeRules(call.actor);
  }

  @Put()
  @Operation({
    id: 'setOutcomeRules',
    summary: 'Set how returns are told apart; the worker then derives every figure again',
    permission: 'platforms:write',
    body: NewOutcomeRules,
    example: NEW_OUTCOME_RULES_EXAMPLE,
    reply: OutcomeRules,
  })
  setOutcomeRules(@Caller() call: Call, @Body({ schema: NewOutcomeRules }) body: NewOutcomeRules) {
    return call.casebook.outcomeRules.setOutcomeRules(call.actor, body);
  }
}
