import { Query, Resolver } from '@nestjs/graphql';
import { Task } from '#libs/contracts/index.js';
import { type GraphCall, GraphCaller, IdArg } from '../graphql/arguments.js';
import { objectTypeOf } from '../graphql/derive.js';

const TaskType = objectTypeOf(Task);

@Resolver()
export class TasksResolver {
  @Query(() => [TaskType])
  tasks(@GraphCaller() call: GraphCall) {
    return call.casebook.tasks.listTasks(call.actor);
  }

  @Query(() => TaskType)
  task(@GraphCaller() call: GraphCall, @IdArg() id: string) {
    return call.casebook.tasks.getTask(call.actor, id);
  }
}
