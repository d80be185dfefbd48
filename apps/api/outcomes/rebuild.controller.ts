import { Body, Controller, HttpCode, Post } from '@nestjs/common';
import { RebuildOrder, Task } from '#libs/contracts/index.js';
import { Call, Caller } from '../http/call.js';
import { Operation } from '../http/operation.js';
import { REBUILD_ORDER_EXAMPLE } from './outcomes.examples.js';

@Controller('v1/outcomes')
export class RebuildController {
  @Post('rebuilds')
  @HttpCode(202)
  @Operation({
    id: 'requestRebuild',
    summary: 'Derive episodes and boards again from the cases, or only compare; the worker does it, its task says what it found',
    permission: 'shops:write',
    body: RebuildOrder,
    example: REBUILD_ORDER_EXAMPLE,
    reply: Task,
    status: 202,
    creates: true,
  })
  requestRebuild(@Caller() call: Call, @Body({ schema: RebuildOrder }) body: RebuildOrder) {
    return call.create(
      (casebook) => casebook.rebuilds.requestRebuild(call.actor, body),
      (task) => ({ status: 202, location: `/v1/tasks/${task.id}` }),
    );
  }
}
