import { Controller, Get, Param } from '@nestjs/common';
import { z } from 'zod';
import { Id, Task } from '#libs/contracts/index.js';
import { Call, Caller } from '../http/call.js';
import { Operation } from '../http/operation.js';

export const TaskList = z.strictObject({ data: z.array(Task) }).meta({ id: 'TaskList' });

@Controller('v1/tasks')
export class TasksController {
  @Get()
  @Operation({ id: 'listTasks', summary: 'Long work of the worker, newest first', permission: 'shops:read', reply: TaskList })
  async listTasks(@Caller() call: Call) {
    return { data: await call.casebook.tasks.listTasks(call.actor) };
  }

  @Get(':id')
  @Operation({ id: 'getTask', summary: 'How far one piece of long work is', permission: 'shops:read', params: { id: Id }, reply: Task })
  getTask(@Caller() call: Call, @Param('id', { schema: Id }) id: string) {
    return call.casebook.tasks.getTask(call.actor, id);
  }
}
