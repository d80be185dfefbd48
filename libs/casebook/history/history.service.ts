import type { SimilarCase, SimilarCases, SimilarQuestion, VehicleHistory } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import { signatureDimensions, signatureVersion } from '#libs/engine/index.js';
import { type Actor, mayOpenShop, requirePermission } from '../access/actor.js';
import { CaseNotFound } from '../cases/cases.errors.js';
import { findCase } from '../cases/cases.queries.js';
import type { CasebookContext } from '../context.js';
import type { DiagnosisService } from '../diagnosis/diagnosis.service.js';
import { clocksOf } from '../outcomes/clocks.js';
import { standingRules } from '../outcomes/outcome-rules.queries.js';
import { episodesOfVehicle, shopClimates } from '../outcomes/outcomes.queries.js';
import { clocksRun } from '../outcomes/return-rates.js';
import { findPlatform } from '../platforms/platforms.queries.js';
import { repairsOfVehicle } from '../repairs/repairs.queries.js';
import { VehicleNotFound } from '../vehicles/vehicles.errors.js';
import { findVehicle, sightingsOf } from '../vehicles/vehicles.queries.js';
import {
  endedRepairs,
  hasCases,
  layoutsOf,
  type SignatureKind,
  type StandingCase,
  signatureOfCase,
  standingCases,
  visitsOfVehicle,
  warmCases,
  warmEndedRepairs,
} from './history.queries.js';
import { KnownSignatures, WORTH_KEEPING } from './known-signatures.js';
import { nearestDimensions, signatureDistance } from './likeness.js';
import type { SignatureShelf } from './signature-shelf.js';

/** So many more are picked at first than are shown: the case itself, and some for those that are void by now. */
const SPARE = 12;
/** Cases that share less than half of what was read, or fewer than two readings, say nothing of each other. */
const MINIMUM_SHARED = 2;
const SHARED_SHARE = 0.5;
const DEFAULT_SIMILAR = 10;
/** Cases whose pages are brought into the database's memory by one statement. */
const WARMED_TOGETHER = 20_000;

interface Asked {
  readonly version: string;
  readonly layout: string;
  readonly values: readonly (number | null)[];
  readonly platformId: string | null;
  readonly leaders: readonly string[];
  readonly exceptCaseId: string | null;
}

export class HistoryService {
  private readonly signatures = new KnownSignatures();

  constructor(
    private readonly context: CasebookContext,
    private readonly diagnosis: DiagnosisService,
  ) {}

  /** Every visit, repair and sighting of a vehicle at every shop of the organisation. Shops that are not the caller's are not named. */
  async vehicleHistory(actor: Actor, vehicleId: string): Promise<VehicleHistory> {
    requirePermission(actor, 'vehicles:read');
    return this.context.inTenant(actor.orgId, async (tx) => {
      const vehicle = await findVehicle(tx, actor.orgId, vehicleId);
      if (!vehicle) throw new VehicleNotFound();
      const visits = await visitsOfVehicle(tx, actor.orgId, vehicleId);
      const repairs = await repairsOfVehicle(tx, actor.orgId, vehicleId);
      const episodes = await episodesOfVehicle(tx, actor.orgId, vehicleId);
      const sightings = await sightingsOf(tx, actor.orgId, vehicleId);
      const clocks = clocksOf(await shopClimates(tx, actor.orgId), this.context.clock(), await standingRules(tx, actor.orgId));
      const open = (shopId: string) => mayOpenShop(actor, shopId);
      return {
        vehicle,
        visits: visits.map(({ caseId, shopId, ...visit }) => ({
          ...visit,
          caseId: open(shopId) ? caseId : null,
          shopId: open(shopId) ? shopId : null,
          ownShop: open(shopId),
          repairs: repairs
            .filter((repair) => repair.caseId === caseId)
            .map(({ fault, action, intent, day }) => ({ fault, action, intent, day })),
        })),
        episodes: episodes.map(({ homeShopId, distanceKm, ...episode }) => ({
          ...episode,
          ...clocksRun({ homeShopId, distanceKm, ...episode }, clocks),
          caseId: open(episode.shopId) ? episode.caseId : null,
          shopId: open(episode.shopId) ? episode.shopId : null,
          endCaseId: episode.endShopId !== null && open(episode.endShopId) ? episode.endCaseId : null,
          endShopId: episode.endShopId !== null && open(episode.endShopId) ? episode.endShopId : null,
        })),
        sightings: sightings.map((sighting) => ({ ...sighting, shopId: open(sighting.shopId) ? sighting.shopId : null })),
      };
    });
  }

  /**
   * Reads into memory what the first questions about similar cases of a large region would have to wait for: the signatures into this process's, and into the
   * database's the pages in which the cases shown are looked up. They lie anywhere, and a page that is not there yet costs as much as a thousand comparisons.
   */
  async readAhead(orgId: string): Promise<void> {
    if (!(await this.context.inTenant(orgId, (tx) => hasCases(tx, orgId, WORTH_KEEPING)))) return;
    for (const layout of await this.context.inTenant(orgId, (tx) => layoutsOf(tx, orgId))) {
      await this.context.inTenant(orgId, (tx) => this.signatures.warm(tx, orgId, { version: signatureVersion, layout }));
    }
    for (const warm of [warmCases, warmEndedRepairs]) {
      let last: string | null = null;
      do last = await this.context.inTenant(orgId, (tx) => warm(tx, orgId, last, WARMED_TOGETHER));
      while (last !== null);
    }
  }

  /** Past cases like a stored one. */
  async similarToCase(actor: Actor, caseId: string, limit = DEFAULT_SIMILAR): Promise<SimilarCases> {
    requirePermission(actor, 'cases:read');
    return this.context.inTenant(actor.orgId, async (tx) => {
      const row = await findCase(tx, actor.orgId, actor.shopIds, caseId);
      if (!row) throw new CaseNotFound(caseId);
      const signature = await signatureOfCase(tx, actor.orgId, caseId);
      if (!signature) {
        return {
          signatureVersion: '',
          compared: 0,
          data: [],
          message: 'This case has not been diagnosed yet. Run the engine first: similar cases are found by its residuals.',
        };
      }
      return this.nearest(
        tx,
        actor,
        {
          version: signature.version,
          layout: signature.layout,
          values: signature.values,
          platformId: row.platformId,
          leaders: signature.leadingFault === null ? [] : [signature.leadingFault],
          exceptCaseId: caseId,
        },
        limit,
      );
    });
  }

  /** Past cases like readings that are not stored. */
  async similarToReadings(actor: Actor, input: SimilarQuestion): Promise<SimilarCases> {
    requirePermission(actor, 'cases:read');
    return this.context.inTenant(actor.orgId, async (tx) => {
      const result = await this.diagnosis.answerQuestion(tx, actor, input.question, '/question');
      const platform = input.question.platformId === undefined ? null : await findPlatform(tx, actor.orgId, input.question.platformId);
      const layout = platform?.layout ?? input.question.system?.layout ?? '';
      const leaders = result.status === 'answered' ? result.faults.slice(0, 3).map((fault) => fault.code) : [];
      return this.nearest(
        tx,
        actor,
        {
          version: result.signature.version,
          layout,
          values: result.signature.values,
          platformId: platform?.id ?? null,
          leaders,
          exceptCaseId: null,
        },
        input.limit ?? DEFAULT_SIMILAR,
      );
    });
  }

  /**
   * The nearest cases that still stand, with their distances. As many are looked up as are shown, and others only in place of those that turn out void or of
   * another layout by now: a case that is looked up is some pages from anywhere in a large region.
   */
  private async ranked(tx: Tx, orgId: string, kind: SignatureKind, shelf: SignatureShelf, asked: Asked, needed: number, limit: number) {
    const lookedUp = new Set(asked.exceptCaseId === null ? [] : [asked.exceptCaseId]);
    const ranked: (StandingCase & { readonly distance: number; readonly shared: number })[] = [];
    for (let most = limit + SPARE; ; most *= 2) {
      const { count, ids } = shelf.nearest(asked.values, needed, most);
      while (ranked.length < limit) {
        const next = ids.filter((id) => !lookedUp.has(id)).slice(0, limit - ranked.length);
        if (next.length === 0) break;
        for (const id of next) lookedUp.add(id);
        for (const one of await standingCases(tx, orgId, kind, next)) {
          const near = signatureDistance(asked.values, one.values, needed);
          if (near) ranked.push({ ...one, ...near });
        }
      }
      if (ranked.length < limit && ids.length >= most) continue;
      ranked.sort((a, b) => a.distance - b.distance || (a.caseId < b.caseId ? -1 : 1));
      // A stored case is the nearest to itself.
      return { compared: count - (asked.exceptCaseId !== null && ids.includes(asked.exceptCaseId) ? 1 : 0), ranked };
    }
  }

  private async nearest(tx: Tx, actor: Actor, asked: Asked, limit: number): Promise<SimilarCases> {
    const read = asked.values.filter((value) => value !== null).length;
    const needed = Math.max(MINIMUM_SHARED, Math.ceil(read * SHARED_SHARE));
    const kind = { version: asked.version, layout: asked.layout };
    const shelf = await this.signatures.of(tx, actor.orgId, kind);
    const { compared, ranked } = await this.ranked(tx, actor.orgId, kind, shelf, asked, needed, limit);
    const repairs = await endedRepairs(
      tx,
      actor.orgId,
      ranked.map(({ caseId }) => caseId),
    );
    const data = ranked.map(({ caseId, shopId, values, shared, ...row }): SimilarCase => {
      const own = mayOpenShop(actor, shopId);
      return {
        ...row,
        caseId: own ? caseId : null,
        shopId: own ? shopId : null,
        samePlatform: asked.platformId !== null && row.platformId === asked.platformId,
        sharedReadings: shared,
        why: nearestDimensions(asked.values, values, 3).map((i) => signatureDimensions[i]!.replaceAll('-', ' ')),
        contrary: asked.leaders.length > 0 && row.provedFaults.length > 0 && !row.provedFaults.includes(asked.leaders[0] as never),
        repairs: repairs.filter((repair) => repair.caseId === caseId).map(({ caseId: _case, ...repair }) => repair),
      };
    });
    return {
      signatureVersion: asked.version,
      compared,
      data,
      message:
        data.length > 0
          ? `Nearest of ${compared} cases of the same layout, by distance of their residuals. Cases that turned out differently stand among them.`
          : `None of ${compared} cases of the same layout shares at least ${needed} readings with this one.`,
    };
  }
}
