import { createHash } from 'node:crypto';
import { v7 as uuidv7 } from 'uuid';
import { type Deleted, instantText, type NewPhotograph, type Photograph } from '#libs/contracts/index.js';
import { type Actor, requirePermission } from '../access/actor.js';
import { appendAudit } from '../audit/audit.queries.js';
import { lockCase } from '../cases/case-lock.js';
import { CaseNotFound, CaseVoided } from '../cases/cases.errors.js';
import { findCase } from '../cases/cases.queries.js';
import type { CasebookContext } from '../context.js';
import { NotAPicture, PhotographNotFound, TooManyPhotographs } from './photographs.errors.js';
import { deletePhotograph, findPicture, insertPhotograph, photographsOfCase, type StoredPicture } from './photographs.queries.js';
import { cleanPicture } from './picture.js';

const MOST = 12;

/** Photographs of parts, gauges and labels, as proof of a case. */
export class PhotographsService {
  constructor(private readonly context: CasebookContext) {}

  /** @throws NotAPicture, TooManyPhotographs, CaseVoided */
  async addPhotograph(actor: Actor, caseId: string, { data, ...about }: NewPhotograph): Promise<Photograph> {
    requirePermission(actor, 'cases:write');
    const picture = cleanPicture(Buffer.from(data, 'base64'));
    if (!picture) throw new NotAPicture();
    return this.context.inTenant(actor.orgId, async (tx) => {
      const row = await lockCase(tx, actor, caseId);
      if (row.status === 'void') throw new CaseVoided();
      if ((await photographsOfCase(tx, actor.orgId, caseId)).length >= MOST) throw new TooManyPhotographs(MOST);
      const at = this.context.clock();
      const photograph: Photograph = {
        id: uuidv7(),
        caseId,
        ...about,
        mediaType: picture.mediaType,
        widthPx: picture.widthPx,
        heightPx: picture.heightPx,
        bytes: picture.bytes.length,
        sha256: createHash('sha256').update(picture.bytes).digest('hex'),
        createdAt: instantText(at),
      };
      await insertPhotograph(tx, actor.orgId, photograph, picture.bytes);
      await appendAudit(tx, actor, at, 'case.photographed', { type: 'case', id: caseId }, { photographId: photograph.id });
      return photograph;
    });
  }

  async listPhotographs(actor: Actor, caseId: string): Promise<Photograph[]> {
    requirePermission(actor, 'cases:read');
    return this.context.inTenant(actor.orgId, async (tx) => {
      if (!(await findCase(tx, actor.orgId, actor.shopIds, caseId))) throw new CaseNotFound(caseId);
      return photographsOfCase(tx, actor.orgId, caseId);
    });
  }

  /** The picture itself. */
  async getPicture(actor: Actor, caseId: string, id: string): Promise<StoredPicture> {
    requirePermission(actor, 'cases:read');
    return this.context.inTenant(actor.orgId, async (tx) => {
      if (!(await findCase(tx, actor.orgId, actor.shopIds, caseId))) throw new CaseNotFound(caseId);
      const found = await findPicture(tx, actor.orgId, caseId, id);
      if (!found) throw new PhotographNotFound(id);
      return found;
    });
  }

  async removePhotograph(actor: Actor, caseId: string, id: string): Promise<Deleted> {
    requirePermission(actor, 'cases:write');
    return this.context.inTenant(actor.orgId, async (tx) => {
      await lockCase(tx, actor, caseId);
      if (!(await deletePhotograph(tx, actor.orgId, caseId, id))) throw new PhotographNotFound(id);
      await appendAudit(tx, actor, this.context.clock(), 'case.photograph-removed', { type: 'case', id: caseId }, { photographId: id });
      return { id };
    });
  }
}
