import { hash } from 'node:crypto';
import { v7 as uuidv7 } from 'uuid';
import type { NewTrustedDocument, Page, PageInput, TrustedDocument } from '#libs/contracts/index.js';
import { type Actor, requirePermission } from '../access/actor.js';
import { appendAudit } from '../audit/audit.queries.js';
import type { CasebookContext } from '../context.js';
import { DEFAULT_PAGE, decodeCursor, filterHash, toPage } from '../paging.js';
import { DocumentNotFound, TooManyDocuments, TrustedDocumentsOnly } from './documents.errors.js';
import { countDocuments, deleteDocument, findDocument, listDocuments, putDocument } from './documents.queries.js';

const MAX_DOCUMENTS = 1_000;
const KEPT = 5_000;
/** How long a document that was found is trusted without asking again: deletion takes this long to bite. */
const KEPT_MS = 5_000;
const DOCUMENT_ID = /^sha256:([0-9a-f]{64})$/;

/** Documents of GraphQL that an organisation asks for by their hash (GraphQL over HTTP, appendix A). */
export class DocumentsService {
  private readonly kept = new Map<string, { readonly query: string; readonly until: number }>();

  constructor(private readonly context: CasebookContext) {}

  /** The same text again is the same document. @throws TooManyDocuments */
  async trust(actor: Actor, { query }: NewTrustedDocument): Promise<TrustedDocument> {
    requirePermission(actor, 'documents:write');
    if (actor.trustedDocumentsOnly) throw new TrustedDocumentsOnly();
    const digest = hash('sha256', query, 'hex');
    return this.context.inTenant(actor.orgId, async (tx) => {
      const known = await findDocument(tx, actor.orgId, digest);
      if (known) return known;
      if ((await countDocuments(tx, actor.orgId)) >= MAX_DOCUMENTS) throw new TooManyDocuments(MAX_DOCUMENTS);
      const id = uuidv7();
      const at = this.context.clock();
      if (await putDocument(tx, actor.orgId, id, digest, query, at))
        await appendAudit(tx, actor, at, 'document.trusted', { type: 'document', id }, { hash: digest });
      return (await findDocument(tx, actor.orgId, digest))!;
    });
  }

  async listDocuments(actor: Actor, page: PageInput): Promise<Page<TrustedDocument>> {
    requirePermission(actor, 'documents:read');
    const first = page.first ?? DEFAULT_PAGE;
    const filter = filterHash({ list: 'documents' });
    const after = decodeCursor(page.after, filter, 1);
    const rows = await this.context.inTenant(actor.orgId, (tx) => listDocuments(tx, actor.orgId, after?.[0] ?? null, first + 1));
    return toPage(rows, first, filter, (row) => [row.id]);
  }

  /** @throws DocumentNotFound */
  async distrust(actor: Actor, id: string): Promise<{ id: string }> {
    requirePermission(actor, 'documents:write');
    if (actor.trustedDocumentsOnly) throw new TrustedDocumentsOnly();
    await this.context.inTenant(actor.orgId, async (tx) => {
      if ((await deleteDocument(tx, actor.orgId, id)) === null) throw new DocumentNotFound();
      await appendAudit(tx, actor, this.context.clock(), 'document.distrusted', { type: 'document', id });
    });
    this.kept.clear();
    return { id };
  }

  /** The text behind a documentId. Whoever may ask at all may ask for it: what it reads is judged as ever. @throws DocumentNotFound */
  async text(actor: Actor, documentId: string): Promise<string> {
    const now = this.context.clock().getTime();
    const key = `${actor.orgId} ${documentId}`;
    const kept = this.kept.get(key);
    if (kept && kept.until >= now) return kept.query;
    const digest = DOCUMENT_ID.exec(documentId)?.[1];
    const found = digest ? await this.context.inTenant(actor.orgId, (tx) => findDocument(tx, actor.orgId, digest)) : null;
    if (!found) throw new DocumentNotFound();
    if (this.kept.size >= KEPT) this.kept.delete(this.kept.keys().next().value!);
    this.kept.set(key, { query: found.query, until: now + KEPT_MS });
    return found.query;
  }
}
