import { Controller, Get, HttpCode, Post, Query } from '@nestjs/common';
import { PatternBoard, PatternQuestion, Task } from '#libs/contracts/index.js';
import { Call, Caller } from '../http/call.js';
import { Operation } from '../http/operation.js';

@Controller('v1/outcomes/patterns')
export class PatternsController {
  @Get()
  @Operation({
    id: 'listPatterns',
    summary: 'Which fault follows which more often than on like vehicles, from the stored scores',
    permission: 'outcomes:read',
    query: PatternQuestion,
    reply: PatternBoard,
  })
  listPatterns(@Caller() call: Call, @Query({ schema: PatternQuestion }) query: PatternQuestion) {
    return call.casebook.patterns.patterns(call.actor, query);
  }

  @Post('scoring')
  @HttpCode(202)
  @Operation({
    id: 'requestPatternScoring',
    summary: 'Weigh all patterns again; the worker does it',
    permission: 'platforms:write',
    reply: Task,
    status: 202,
    creates: true,
  })
  requestPatternScoring(@Caller() call: Call) {
    return call.create(
      (casebook) => casebook.patterns.requestScoring(call.actor),
      (task) => ({ status: 202, location: `/v1/tasks/${task.id}` }),
    );
  }
}
