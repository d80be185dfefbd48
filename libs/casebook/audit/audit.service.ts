import type { AuditEvent, Page, PageInput } from '#libs/contracts/index.js';
import { type Actor, requirePermission } from '../access/actor.js';
import type { CasebookContext } from '../context.js';
import { DEFAULT_PAGE, decodeCursor, filterHash, toPage } from '../paging.js';
import { listAudit } from './audit.queries.js';

export class AuditService {
  constructor(private readonly context: CasebookContext) {}

  /** The organisation's audit trail, newest first; for a credential limited to shops, what concerns those. */
  async listAudit(actor: Actor, input: PageInput & { subjectId?: string }): Promise<Page<AuditEvent>> {
    requirePermission(actor, 'audit:read');
    const first = input.first ?? DEFAULT_PAGE;
    const hash = filterHash({ list: 'audit', subjectId: input.subjectId });
    const after = decodeCursor(input.after, hash, 1);
    const rows = await this.context.inTenant(actor.orgId, (tx) =>
      listAudit(tx, actor.orgId, actor.shopIds, after?.[0] ?? null, first + 1, input.subjectId ?? null),
    );
    return toPage(rows, first, hash, (row) => [row.id]);
  }
}
