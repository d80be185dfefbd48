import { v7 as uuidv7 } from 'uuid';
import { instantText, NewPlatform, type Page, type PageInput, type Platform, type PlatformPatch } from '#libs/contracts/index.js';
import { constraintOf, type Tx } from '#libs/database/index.js';
import { type Actor, requirePermission } from '../access/actor.js';
import { appendAudit } from '../audit/audit.queries.js';
import type { CasebookContext } from '../context.js';
import { parseInput } from '../invalid.errors.js';
import { DEFAULT_PAGE, decodeCursor, filterHash, toPage } from '../paging.js';
import { requireVersion } from '../versions.errors.js';
import { PlatformCodeTaken, PlatformNotFound } from './platforms.errors.js';
import { findPlatform, insertPlatform, listPlatforms, platformsByIds, platformsNamed, updatePlatform } from './platforms.queries.js';

export class PlatformsService {
  constructor(private readonly context: CasebookContext) {}

  async addPlatform(actor: Actor, input: NewPlatform): Promise<Platform> {
    requirePermission(actor, 'platforms:write');
    return this.context.inTenant(actor.orgId, async (tx) => {
      const id = uuidv7();
      const at = this.context.clock();
      try {
        await insertPlatform(tx, actor.orgId, id, input, at);
      } catch (error) {
        if (constraintOf(error) === 'platform_org_id_code_key') throw new PlatformCodeTaken(input.code);
        throw error;
      }
      await appendAudit(tx, actor, at, 'platform.added', { type: 'platform', id }, { code: input.code });
      return { id, version: 1, createdAt: instantText(at), ...input };
    });
  }

  async changePlatform(actor: Actor, id: string, patch: PlatformPatch, expectedVersion: number | undefined): Promise<Platform> {
    requirePermission(actor, 'platforms:write');
    return this.context.inTenant(actor.orgId, async (tx) => {
      const stored = await findPlatform(tx, actor.orgId, id, { lock: true });
      if (!stored) throw new PlatformNotFound(id, 'id');
      requireVersion(expectedVersion, stored.version);
      const { id: _id, version, createdAt, ...fields } = stored;
      const whole = parseInput(NewPlatform, { ...fields, ...patch });
      const at = this.context.clock();
      try {
        await updatePlatform(tx, actor.orgId, id, whole, at);
      } catch (error) {
        if (constraintOf(error) === 'platform_org_id_code_key') throw new PlatformCodeTaken(whole.code);
        throw error;
      }
      await appendAudit(tx, actor, at, 'platform.changed', { type: 'platform', id }, { fields: Object.keys(patch) });
      return { id, version: version + 1, createdAt, ...whole };
    });
  }

  async getPlatform(actor: Actor, id: string): Promise<Platform> {
    requirePermission(actor, 'platforms:read');
    return this.context.inTenant(actor.orgId, async (tx) => {
      const platform = await findPlatform(tx, actor.orgId, id);
      if (!platform) throw new PlatformNotFound(id, 'id');
      return platform;
    });
  }

  async listPlatforms(actor: Actor, page: PageInput): Promise<Page<Platform>> {
    requirePermission(actor, 'platforms:read');
    const first = page.first ?? DEFAULT_PAGE;
    const hash = filterHash({ list: 'platforms' });
    const after = decodeCursor(page.after, hash, 1);
    const rows = await this.context.inTenant(actor.orgId, (tx) => listPlatforms(tx, actor.orgId, after?.[0] ?? null, first + 1));
    return toPage(rows, first, hash, (platform) => [platform.code]);
  }

  /** Several at once, for lists that show their platforms. */
  async platformsByIds(actor: Actor, ids: readonly string[]): Promise<Platform[]> {
    requirePermission(actor, 'platforms:read');
    return this.context.inTenant(actor.orgId, (tx) => platformsByIds(tx, actor.orgId, ids));
  }

  /** The platform a request names, as `platformFinder` finds it. */
  async resolvePlatform(tx: Tx, actor: Actor, named: NamedPlatform, pointer: string): Promise<Platform | null> {
    return (await this.platformFinder(tx, actor, [named]))(named, pointer);
  }

  /** Finds the platforms that several requests name. What it gives answers null where none is named, and throws PlatformNotFound. */
  async platformFinder(
    tx: Tx,
    actor: Actor,
    named: readonly NamedPlatform[],
  ): Promise<(one: NamedPlatform, pointer: string) => Platform | null> {
    const ids = new Set<string>();
    const codes = new Set<string>();
    for (const { platformId, platformCode } of named) {
      if (platformId !== undefined) ids.add(platformId);
      else if (platformCode !== undefined) codes.add(platformCode);
    }
    const found = ids.size + codes.size > 0 ? await platformsNamed(tx, actor.orgId, [...ids], [...codes]) : [];
    const byId = new Map(found.map((platform) => [platform.id, platform]));
    const byCode = new Map(found.map((platform) => [platform.code, platform]));
    return ({ platformId, platformCode }, pointer) => {
      if (platformId === undefined && platformCode === undefined) return null;
      const platform = platformId !== undefined ? byId.get(platformId.toLowerCase()) : byCode.get(platformCode!);
      if (platform) return platform;
      if (platformId !== undefined) throw new PlatformNotFound(platformId, `${pointer}/platformId`);
      throw new PlatformNotFound(platformCode!, `${pointer}/platformCode`);
    };
  }
}

interface NamedPlatform {
  readonly platformId?: string | undefined;
  readonly platformCode?: string | undefined;
}
