import { z } from 'zod';
import { Id, Instant } from './text.js';

/** Long work done by the worker, and how far it is. */
export const Task = z
  .strictObject({
    id: Id,
    kind: z.string(),
    state: z.enum(['waiting', 'running', 'done', 'failed']).meta({ id: 'TaskState' }),
    done: z.int(),
    total: z.int(),
    detail: z.string().nullable(),
    createdAt: Instant,
    updatedAt: Instant,
  })
  .meta({ id: 'Task' });
export type Task = z.infer<typeof Task>;
