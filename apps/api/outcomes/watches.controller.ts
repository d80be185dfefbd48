import { Controller, Get, HttpCode, Post, Query } from '@nestjs/common';
import { Task, WatchBoard, WatchQuestion } from '#libs/contracts/index.js';
import { Call, Caller } from '../http/call.js';
import { Operation } from '../http/operation.js';

@Controller('v1/outcomes/watches')
export class WatchesController {
  @Get()
  @Operation({
    id: 'listWatches',
    summary: 'What is new: faults and returns beyond what their exposure explains, from the last look',
    permission: 'outcomes:read',
    query: WatchQuestion,
    reply: WatchBoard,
  })
  listWatches(@Caller() call: Call, @Query({ schema: WatchQuestion }) query: WatchQuestion) {
    return call.casebook.watches.watches(call.actor, query);
  }

  @Post('scoring')
  @HttpCode(202)
  @Operation({
    id: 'requestWatchScoring',
    summary: 'Look at all streams again; the worker does it',
    permission: 'platforms:write',
    reply: Task,
    status: 202,
    creates: true,
  })
  requestWatchScoring(@Caller() call: Call) {
    return call.create(
      (casebook) => casebook.watches.requestScoring(call.actor),
      (task) => ({ status: 202, location: `/v1/tasks/${task.id}` }),
    );
  }
}
