import { instantText, type Platform, type PlatformExpectation } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import {
  DIM_NAMES,
  ENGINE_VERSION,
  OWN_AT_MOST,
  type PlatformCalibration,
  platformCalibration,
  RELATED_NEEDED,
  SHOPS_NEEDED,
} from '#libs/engine/index.js';
import { type Actor, requirePermission } from '../access/actor.js';
import { appendAudit } from '../audit/audit.queries.js';
import type { CasebookContext } from '../context.js';
import { PlatformNotFound } from '../platforms/platforms.errors.js';
import { findPlatform } from '../platforms/platforms.queries.js';
import type { TasksService } from '../tasks/tasks.service.js';
import { afterReadings } from './after-readings.js';
import { enginePlatform } from './engine-input.js';
import {
  type AskedVehicle,
  type ExpectationRow,
  insertExpectation,
  knownGood,
  latestExpectation,
  lookedAgain,
  type OwnVisit,
  ownSoundVisits,
  platformsInUse,
} from './expectation.queries.js';
import { relatedTo } from './related.js';

const EXPECTATION_JOB = 'platforms.expect';
const DAY_MS = 86_400_000;
const SHARES: ReadonlySet<string> = new Set(['command', 'duty', 'speed-ratio']);

/** Readings of more cases of a platform would add nothing: what is left then is the spread between its vehicles. */
const KNOWN_AT_MOST = 1_000;

/** What a platform's cases are judged by: what was learned of it and of related ones, and that one's version, or the kind's. */
export interface KnownExpectation {
  readonly version: number | null;
  readonly calibration: PlatformCalibration | null;
}
const OF_ITS_KIND: KnownExpectation = { version: null, calibration: null };

/**
 * What a sound vehicle of a platform shows, learned from readings after proved repairs. Stored in versions, of which the newest is used; looked at again once a
 * day when somebody asks about the platform, before history is judged again, and when a director says so.
 */
export class ExpectationService {
  constructor(
    private readonly context: CasebookContext,
    private readonly tasks: TasksService,
  ) {}

  async platformExpectation(actor: Actor, platformId: string): Promise<PlatformExpectation> {
    requirePermission(actor, 'platforms:read');
    return this.context.inTenant(actor.orgId, async (tx) => {
      if (!(await findPlatform(tx, actor.orgId, platformId))) throw new PlatformNotFound(platformId);
      return shown(platformId, await latestExpectation(tx, actor.orgId, platformId));
    });
  }

  /** Looks at the platform's known-good readings now. */
  async learnExpectation(actor: Actor, platformId: string): Promise<PlatformExpectation> {
    requirePermission(actor, 'platforms:write');
    return this.context.inTenant(actor.orgId, async (tx) => {
      const platform = await findPlatform(tx, actor.orgId, platformId, { lock: true });
      if (!platform) throw new PlatformNotFound(platformId);
      const row = await this.learn(tx, actor.orgId, platform);
      const change = { version: row.version, cases: row.cases, shops: row.shops };
      await appendAudit(tx, actor, this.context.clock(), 'platform.expectation-learned', { type: 'platform', id: platformId }, change);
      return shown(platformId, row);
    });
  }

  /** Earlier visits after which the vehicles of these cases were sound, by case; newest first. */
  async ownSound(tx: Tx, orgId: string, asked: readonly AskedVehicle[]): Promise<ReadonlyMap<string, readonly OwnVisit[]>> {
    const known = new Map<string, OwnVisit[]>();
    const withPlatform = asked.filter(({ platformId }) => platformId !== null);
    for (const visit of await ownSoundVisits(tx, orgId, withPlatform, OWN_AT_MOST)) {
      known.set(visit.ofCase, [...(known.get(visit.ofCase) ?? []), visit]);
    }
    return known;
  }

  /** The job itself. A platform that is gone has nothing to be learned. */
  async learnInBackground(orgId: string, platformId: string): Promise<void> {
    await this.context.inTenant(orgId, async (tx) => {
      const platform = await findPlatform(tx, orgId, platformId, { lock: true });
      if (platform) await this.learn(tx, orgId, platform);
    });
  }

  /** Every platform that is in use: done before history is judged again. */
  async learnAll(orgId: string): Promise<void> {
    for (const id of await this.context.inTenant(orgId, (tx) => platformsInUse(tx, orgId))) await this.learnInBackground(orgId, id);
  }

  /** What the platform's cases are judged by now. */
  async known(tx: Tx, orgId: string, platformId: string): Promise<KnownExpectation> {
    return inUse(await latestExpectation(tx, orgId, platformId));
  }

  /** The same for an answer that is stored; has the platform looked at again when that was long ago. */
  async knownToday(tx: Tx, orgId: string, platformId: string): Promise<KnownExpectation> {
    const row = await latestExpectation(tx, orgId, platformId);
    const now = this.context.clock().getTime();
    const subject = `${orgId} ${platformId}`;
    const last = Math.max(this.context.expectationsAsked.get(subject) ?? 0, row === null ? 0 : Date.parse(row.lookedAt));
    if (now - last > DAY_MS) {
      this.context.expectationsAsked.set(subject, now);
      await this.tasks.callJob(tx, orgId, EXPECTATION_JOB, platformId);
    }
    return inUse(row);
  }

  /** The platform is locked: whoever learns it waits. The same readings give the same calibration and no new version. */
  private async learn(tx: Tx, orgId: string, platform: Platform): Promise<ExpectationRow> {
    const engine = enginePlatform(platform);
    const rows = await knownGood(tx, orgId, [platform.id], KNOWN_AT_MOST);
    const document = platformCalibration(
      engine,
      rows.map((row) => ({ shop: row.shopId, input: afterReadings(engine, row) })),
      await relatedTo(tx, orgId, platform),
    );
    const at = instantText(this.context.clock());
    const last = await latestExpectation(tx, orgId, platform.id);
    const isOwn = document !== null && document.cases > 0;
    const found = {
      cases: isOwn ? document.cases : rows.length,
      shops: isOwn ? document.shops : new Set(rows.map(({ shopId }) => shopId)).size,
    };
    if (
      last &&
      last.engineVersion === ENGINE_VERSION &&
      last.cases === found.cases &&
      last.shops === found.shops &&
      isSame(last.document, document)
    ) {
      await lookedAgain(tx, orgId, platform.id, last.version, at);
      return { ...last, lookedAt: at };
    }
    const next = { version: (last?.version ?? 0) + 1, engineVersion: ENGINE_VERSION, ...found, document };
    await insertExpectation(tx, orgId, platform.id, next, at);
    return { ...next, createdAt: at, lookedAt: at };
  }
}

/** A calibration of another engine is not used: the engine would not know what it is about. */
function inUse(row: ExpectationRow | null): KnownExpectation {
  return row?.document && row.engineVersion === ENGINE_VERSION ? { version: row.version, calibration: row.document } : OF_ITS_KIND;
}

/** The order in which cases are read may move the last digits. */
function isSame(a: PlatformCalibration | null, b: PlatformCalibration | null): boolean {
  if (a === null || b === null) return a === b;
  const near = (x: readonly number[], y: readonly number[]) =>
    x.length === y.length && x.every((value, i) => Math.abs(value - y[i]!) < 1e-6);
  return a.calibration === b.calibration && a.group === b.group && near(a.offset, b.offset) && near(a.remaining, b.remaining);
}

function shown(platformId: string, row: ExpectationRow | null): PlatformExpectation {
  const { calibration } = inUse(row);
  return {
    platformId,
    verdict: calibration === null ? 'of-its-kind' : calibration.cases > 0 ? 'own' : 'of-related',
    version: row?.version ?? null,
    engineVersion: row?.engineVersion ?? null,
    cases: row?.cases ?? 0,
    shops: row?.shops ?? 0,
    shopsNeeded: SHOPS_NEEDED,
    related: calibration?.related ?? null,
    shifts: calibration
      ? DIM_NAMES.map((quantity, i) => ({
          quantity,
          unit: SHARES.has(quantity) ? ('1' as const) : ('K' as const),
          shift: calibration.offset[i]!,
          error: Math.sqrt(Math.max(calibration.remaining[(i * (i + 1)) / 2 + i]!, 0)),
        }))
      : [],
    createdAt: row?.createdAt ?? null,
    lookedAt: row?.lookedAt ?? null,
    message: messageOf(row, calibration),
    definitions: DEFINITIONS,
  };
}

function messageOf(row: ExpectationRow | null, calibration: PlatformCalibration | null): string {
  if (row === null)
    return 'Nobody has looked at known-good readings of this platform yet. Its cases are judged by what sound systems of its kind show.';
  const seen = `${row.cases} known-good ${row.cases === 1 ? 'case' : 'cases'} of ${row.shops} ${row.shops === 1 ? 'shop' : 'shops'}`;
  const kin = calibration?.related;
  const others = kin && `${kin.cases} of ${kin.platforms} other platforms of its kind`;
  if (calibration && calibration.cases > 0)
    return `Learned from ${seen}${others ? `, and ${others}` : ''}. Each answer names version ${row.version}.`;
  if (calibration)
    return `Learned from known-good cases of related platforms: ${others}. Of its own there are ${seen}; ${SHOPS_NEEDED} shops are needed.`;
  if (row.document) return `Learned by another engine, when there were ${seen} of its own; it is learned again before it is used.`;
  return `${seen}: ${SHOPS_NEEDED} shops are needed, or one shop's instruments would become the platform's. Judged by what sound systems of its kind show.`;
}

const DEFINITIONS = [
  'Known good: read once more after a repair, the cause proved by an opened part or a laboratory, and the vehicle did not come back with it. Proof by those same readings does not count.',
  `Related: other platforms of this organisation with the same layout and kind of compressor; ${RELATED_NEEDED} are needed, the two dozen best read are used.`,
  'Four levels: what all platforms of a kind have in common, the platform, the instruments of each shop, the single vehicle. Few readings move the expectation little, and it never moves beyond two and a half widths of the kind’s hardware.',
];
