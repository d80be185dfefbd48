import type { Tx } from '#libs/database/index.js';
import type { NodeKind } from './nodes.service.js';

/** Which kind of thing each identifier names, of those that can be found again by it. */
export async function kindsOf(tx: Tx, orgId: string, ids: readonly string[]): Promise<{ id: string; kind: NodeKind }[]> {
  const { rows } = await tx.query<{ id: string; kind: NodeKind }>({
    name: 'nodes.kinds',
    text: `select id, 'Case' as kind from shop_case where org_id = $1 and id = any($2)
           union all select id, 'ImportRun' from import_run where org_id = $1 and id = any($2)
           union all select id, 'Platform' from platform where org_id = $1 and id = any($2)
           union all select id, 'Shop' from shop where org_id = $1 and id = any($2)
           union all select id, 'Task' from task where org_id = $1 and id = any($2)
           union all select id, 'Vehicle' from vehicle where org_id = $1 and id = any($2)`,
    values: [orgId, ids],
  });
  return rows;
}
