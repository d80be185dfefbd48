import type { Actor } from '../access/actor.js';
import type { CasebookContext } from '../context.js';
import { kindsOf } from './nodes.queries.js';

/** Kinds of things that one identifier finds again, whatever it names. */
export type NodeKind = 'Case' | 'ImportRun' | 'Platform' | 'Shop' | 'Task' | 'Vehicle';

export class NodesService {
  constructor(private readonly context: CasebookContext) {}

  /** The kind behind each identifier. Says nothing of the thing itself: whoever reads it asks its own service, which knows what is allowed. */
  async kindsOf(actor: Actor, ids: readonly string[]): Promise<ReadonlyMap<string, NodeKind>> {
    const found = await this.context.inTenant(actor.orgId, (tx) => kindsOf(tx, actor.orgId, ids));
    return new Map(found.map(({ id, kind }) => [id, kind]));
  }
}
