import { v7 as uuidv7 } from 'uuid';
import { DomainError, instantText, type Task } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import { type Actor, requirePermission } from '../access/actor.js';
import type { CasebookContext } from '../context.js';

export class TaskNotFound extends DomainError {
  readonly kind = 'not_found' as const;
  readonly code = 'tasks/not_found';
  constructor(id: string) {
    super(`There is no task ${id} here.`);
  }
}

const COLUMNS = `id, kind, state, done, total, detail, created_at as "createdAt", updated_at as "updatedAt"`;

/** Long work of the worker: what there is, and how far it has come. */
export class TasksService {
  constructor(private readonly context: CasebookContext) {}

  async listTasks(actor: Actor): Promise<Task[]> {
    requirePermission(actor, 'shops:read');
    return this.context.inTenant(actor.orgId, async (tx) => {
      const { rows } = await tx.query<Task>({
        name: 'tasks.list',
        text: `select ${COLUMNS} from task where org_id = $1 order by created_at desc, id desc limit 50`,
        values: [actor.orgId],
      });
      return rows;
    });
  }

  async getTask(actor: Actor, id: string): Promise<Task> {
    requirePermission(actor, 'shops:read');
    return this.context.inTenant(actor.orgId, async (tx) => {
      const { rows } = await tx.query<Task>({
        name: 'tasks.find',
        text: `select ${COLUMNS} from task where org_id = $1 and id = $2`,
        values: [actor.orgId, id],
      });
      if (!rows[0]) throw new TaskNotFound(id);
      return rows[0];
    });
  }

  /** Creates the task and hands it to the worker in the same transaction. Called by the service itself, not over the API. */
  async startTask(orgId: string, kind: string, total: number, id: string = uuidv7()): Promise<string> {
    await this.context.inTenant(orgId, async (tx) => {
      const at = instantText(this.context.clock());
      await tx.query({
        name: 'tasks.insert',
        text: `insert into task (org_id, id, kind, state, done, total, created_at, updated_at) values ($1, $2, $3, 'waiting', 0, $4, $5, $5)`,
        values: [orgId, id, kind, total, at],
      });
      await tx.query({ name: 'tasks.enqueue', text: 'select enqueue($1, $2, $3)', values: [kind, orgId, id] });
    });
    return id;
  }

  /** Calls a job of the worker, at once or when its time has come. */
  async callJob(tx: Tx, orgId: string, job: string, subjectId: string, due: Date | null = null): Promise<void> {
    if (due === null) await tx.query({ name: 'tasks.enqueue', text: 'select enqueue($1, $2, $3)', values: [job, orgId, subjectId] });
    else
      await tx.query({
        name: 'tasks.enqueue-at',
        text: 'select enqueue_at($1, $2, $3, $4)',
        values: [job, orgId, subjectId, instantText(due)],
      });
  }

  /** Hands a task that had ended to the worker once more. */
  async resumeTask(tx: Tx, orgId: string, kind: string, id: string): Promise<void> {
    await tx.query({
      name: 'tasks.resume',
      text: `update task set state = 'waiting', updated_at = $3 where org_id = $1 and id = $2`,
      values: [orgId, id, instantText(this.context.clock())],
    });
    await this.callJob(tx, orgId, kind, id);
  }

  /** The newest task of a kind that still waits or runs. */
  async pendingTask(tx: Tx, orgId: string, kind: string): Promise<Task | null> {
    const { rows } = await tx.query<Task>({
      name: 'tasks.pending',
      text: `select ${COLUMNS} from task where org_id = $1 and kind = $2 and state in ('waiting', 'running') order by created_at desc limit 1`,
      values: [orgId, kind],
    });
    return rows[0] ?? null;
  }

  /** The state of a task for the job that carries it out. */
  async findTask(tx: Tx, orgId: string, id: string): Promise<Task | null> {
    const { rows } = await tx.query<Task>({
      name: 'tasks.lock',
      text: `select ${COLUMNS} from task where org_id = $1 and id = $2 for update`,
      values: [orgId, id],
    });
    return rows[0] ?? null;
  }

  async reportProgress(tx: Tx, orgId: string, id: string, done: number, state: Task['state'], detail: string | null): Promise<void> {
    await tx.query({
      name: 'tasks.progress',
      text: 'update task set done = $3, state = $4, detail = $5, updated_at = $6 where org_id = $1 and id = $2',
      values: [orgId, id, done, state, detail, instantText(this.context.clock())],
    });
  }
}
