import type { BoardQuestion, Clock, RecurrenceBoard } from '#libs/contracts/index.js';
import { Clock as Clocks, instantText } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import { type Actor, requirePermission } from '../access/actor.js';
import { lastChange } from '../audit/audit.queries.js';
import type { CasebookContext } from '../context.js';
import { PlatformNotFound } from '../platforms/platforms.errors.js';
import type { TasksService } from '../tasks/tasks.service.js';
import { basisOf } from './basis.js';
import { BOARD_RULES, type CellFigures, cellFigures, recurrenceBoard, type StandingCell, standingCells } from './board.js';
import { cellKey } from './board-lines.js';
import {
  type BoardCell,
  type BoardRoll,
  boardLines,
  boardRolls,
  countBoardChanges,
  countEpisodes,
  lockBoards,
  replaceBoard,
  takeBoardChanges,
} from './board-roll.queries.js';
import { clocksOf } from './clocks.js';
import { type EpisodeLot, lotOfRecords, packOf } from './episode-lots.js';
import { type CellPack, cellRecords, deletePacks, isPacked, markPacked, packDigests, storePacks } from './episode-packs.queries.js';
import { columnsOfLots } from './episode-records.js';
import type { StandingRules } from './outcome-rules.js';
import { standingRules } from './outcome-rules.queries.js';
import { type BoardPlatform, boardEpisodes, boardPlatforms, type ShopClimate, shopClimates } from './outcomes.queries.js';
import { DEFAULT_HORIZONS, MINIMUM_EPISODES, type Viewpoint } from './return-rates.js';

export const FOLD_JOB = 'board.fold';
/** A region of fewer repairs is computed at once, fresh; of more, the folded board is shown, and what came since joins at the next fold. */
const FRESH_EPISODES = 1_000;
/** Repairs read together when a board is computed: their rows stay within some ten megabytes. */
const SPANS_AT_A_TIME = 50_000;
const FOLD_AGAIN_MS = 10_000;
/** Boards kept in memory; each is used only while nothing in its organisation has changed. */
const KEPT_BOARDS = 200;

interface Region {
  readonly platforms: readonly BoardPlatform[];
  readonly climates: readonly ShopClimate[];
  readonly rules: StandingRules;
  /** What every figure on a board hangs on besides the episodes. */
  readonly basis: string;
}

/** What recurs in the region. Read from the last fold where that is still true; folded by the worker. */
export class BoardService {
  private readonly kept = new Map<string, { readonly change: string | null; readonly cells: readonly StandingCell[] }>();

  constructor(
    private readonly context: CasebookContext,
    private readonly tasks: TasksService,
  ) {}

  /** Worst first by the lower end of the interval. */
  async recurrences(actor: Actor, question: BoardQuestion): Promise<RecurrenceBoard> {
    requirePermission(actor, 'outcomes:read');
    const { orgId } = actor;
    return this.context.inTenant(orgId, async (tx) => {
      const region = await regionOf(tx, orgId);
      const { platformId } = question;
      if (platformId !== undefined && !region.platforms.some(({ id }) => id === platformId)) throw new PlatformNotFound(platformId);
      const clock = question.clock ?? 'degree-days';
      const horizon = question.horizon ?? standardHorizon(clock);
      const found = await this.cellsFor(tx, orgId, region, { ...question, clock, horizon });
      const view = { clock, horizon, day: found.day, cautions: found.cautions, rules: region.rules };
      return recurrenceBoard(found.cells, region.platforms, view, { ...question, minimum: question.minimumEpisodes ?? MINIMUM_EPISODES });
    });
  }

  /**
   * The job of the worker: computes again the cells that have changed since the last fold, or all of them when the day, a climate, a family or a rule is
   * another, and stores the boards of all clocks. Safe to run again.
   */
  async foldBoards(
    orgId: string,
    options: { readonly whole?: boolean } = {},
  ): Promise<{ readonly cells: number; readonly computed: number }> {
    return this.context.inTenant(orgId, async (tx) => {
      if (!(await lockBoards(tx, orgId))) {
        // The fold that runs may not see what this one was called for.
        await this.tasks.callJob(tx, orgId, FOLD_JOB, orgId, new Date(this.context.clock().getTime() + FOLD_AGAIN_MS));
        return { cells: 0, computed: 0 };
      }
      const changed = await takeBoardChanges(tx, orgId);
      const region = await regionOf(tx, orgId);
      const now = this.context.clock();
      const day = now.toISOString().slice(0, 10);
      const rolls = new Map((await boardRolls(tx, orgId)).map((roll) => [roll.clock, roll]));
      const isCurrent = (clock: Clock) => isTrue(rolls.get(clock), clock, region) && rolls.get(clock)!.day === day;
      const packed = await isPacked(tx, orgId);
      const isWhole = options.whole === true || !packed || !Clocks.options.every(isCurrent);
      if (!isWhole && changed.length === 0) return { cells: 0, computed: 0 };
      const views = Clocks.options.map((clock) => viewOf(clock, standardHorizon(clock), region, now));
      const figures = await this.packedFigures(tx, orgId, region, views, isWhole ? null : changed);
      if (!packed) await markPacked(tx, orgId);
      let count = 0;
      for (const [i, { clock, horizons }] of views.entries()) {
        const stale = new Set(changed.map(cellKey));
        const kept = isWhole ? [] : (await boardLines(tx, orgId, clock)).filter((cell) => !stale.has(cellKey(cell)));
        const cells = standingCells([...kept, ...figures[i]!], region.platforms);
        await replaceBoard(tx, orgId, { clock, horizon: horizons[0]!, day, basis: region.basis, madeAt: instantText(now) }, cells);
        count = cells.length;
      }
      return { cells: count, computed: figures[0]!.length };
    });
  }

  /** Lines of the folded boards that are not what the episodes give; null while changes wait for a fold, or where a board is of another day or basis. */
  async differingLines(orgId: string): Promise<number | null> {
    return this.context.inTenant(orgId, async (tx) => {
      if (!(await lockBoards(tx, orgId))) return null;
      const region = await regionOf(tx, orgId);
      const now = this.context.clock();
      const day = now.toISOString().slice(0, 10);
      if ((await countBoardChanges(tx, orgId)) > 0) return null;
      const rolls = (await boardRolls(tx, orgId)).filter((roll) => isTrue(roll, roll.clock, region) && roll.day === day);
      if (rolls.length === 0) return null;
      const views = rolls.map(({ clock, horizon }) => viewOf(clock, horizon, region, now));
      const figures = await this.figures(tx, orgId, region, views, {});
      let differing = 0;
      for (const [i, { clock }] of rolls.entries()) {
        const derived = new Map(standingCells(figures[i]!, region.platforms).map((cell) => [cellKey(cell), cell]));
        const stored = await boardLines(tx, orgId, clock);
        differing += stored.filter((cell) => !isSame(cell, derived.get(cellKey(cell)))).length;
        const keys = new Set(stored.map(cellKey));
        differing += [...derived.keys()].filter((key) => !keys.has(key)).length;
      }
      return differing;
    });
  }

  /** From the fold where it answers the question; else computed now. */
  private async cellsFor(
    tx: Tx,
    orgId: string,
    region: Region,
    question: BoardQuestion & { readonly clock: Clock; readonly horizon: number },
  ): Promise<{ readonly cells: readonly StandingCell[]; readonly day: string; readonly cautions: readonly string[] }> {
    const { clock, horizon, since, until } = question;
    const now = this.context.clock();
    const day = now.toISOString().slice(0, 10);
    if (since === undefined && until === undefined && horizon === standardHorizon(clock)) {
      // Asked for before the fold is read: a fold that ends in between has taken them, and is then the one that is read.
      const changes = await countBoardChanges(tx, orgId);
      const roll = (await boardRolls(tx, orgId)).find((one) => one.clock === clock);
      const isUsable = isTrue(roll, clock, region);
      if (isUsable && changes === 0 && roll.day === day) return { cells: await boardLines(tx, orgId, clock), day, cautions: [] };
      const isSmall = (await countEpisodes(tx, orgId, FRESH_EPISODES)) < FRESH_EPISODES;
      await this.tasks.callJob(tx, orgId, FOLD_JOB, orgId);
      if (isUsable && !isSmall) {
        const since = `${roll.madeAt.slice(0, 16).replace('T', ' ')} UTC`;
        const cautions = [`As of ${since}. What was recorded since joins within minutes: ask again.`];
        return { cells: await boardLines(tx, orgId, clock), day: roll.day, cautions };
      }
    }
    const key = JSON.stringify([orgId, region.basis, day, clock, horizon, since, until]);
    const change = await lastChange(tx, orgId);
    const kept = this.kept.get(key);
    if (kept && kept.change === change) return { cells: kept.cells, day, cautions: [] };
    const [figures] = await this.figures(tx, orgId, region, [viewOf(clock, horizon, region, now)], { since, until });
    const cells = standingCells(figures!, region.platforms);
    if (this.kept.size >= KEPT_BOARDS) this.kept.delete(this.kept.keys().next().value!);
    this.kept.set(key, { change, cells });
    return { cells, day, cautions: [] };
  }

  /** Packs that are not what the episodes give, that are missing or should not be there; null while changes wait for a fold, or where nothing was packed. */
  async differingPacks(orgId: string): Promise<number | null> {
    return this.context.inTenant(orgId, async (tx) => {
      if (!(await lockBoards(tx, orgId)) || (await countBoardChanges(tx, orgId)) > 0 || !(await isPacked(tx, orgId))) return null;
      const { platforms, climates } = await regionOf(tx, orgId);
      const stored = new Map((await packDigests(tx, orgId)).map((pack) => [cellKey(pack), pack]));
      let differing = 0;
      for (const platformIds of await lotsOfPlatforms(tx, orgId, platforms)) {
        for (const pack of await derivedPacks(tx, orgId, platformIds, climates)) {
          const key = cellKey(pack);
          const { digest, actual } = stored.get(key) ?? {};
          if (digest !== pack.digest || actual !== pack.digest) differing += 1;
          stored.delete(key);
        }
      }
      return differing + stored.size;
    });
  }

  /** Own figures of all cells under each view, from the episodes, some platforms at a time. */
  private async figures(
    tx: Tx,
    orgId: string,
    { platforms, climates }: Region,
    views: readonly Viewpoint[],
    period: { readonly since?: string | undefined; readonly until?: string | undefined },
  ): Promise<CellFigures[][]> {
    const figures: CellFigures[][] = views.map(() => []);
    const shopIds = climates.map(({ id }) => id);
    for (const platformIds of await lotsOfPlatforms(tx, orgId, platforms)) {
      const found = await boardEpisodes(tx, orgId, { platformIds, ...period }, shopIds);
      for (const [v, view] of views.entries()) figures[v]!.push(...cellFigures(found, view));
    }
    return figures;
  }

  /** The same of the cells that have changed (null: of all), whose episodes are packed anew on the way. */
  private async packedFigures(
    tx: Tx,
    orgId: string,
    { platforms, climates }: Region,
    views: readonly Viewpoint[],
    changed: readonly BoardCell[] | null,
  ): Promise<CellFigures[][]> {
    const wanted = changed === null ? null : new Set(changed.map(cellKey));
    const ids = wanted === null ? platforms : [...new Set(changed!.map(({ platformId }) => platformId))].map((id) => ({ id }));
    const shopIds = climates.map(({ id }) => id);
    const figures: CellFigures[][] = views.map(() => []);
    const stored = changed === null ? await packDigests(tx, orgId) : [];
    // Bytes that are not those of their digest would be taken for stored already.
    await deletePacks(
      tx,
      orgId,
      stored.filter(({ digest, actual }) => digest !== actual),
    );
    const found = new Set<string>();
    for (const platformIds of await lotsOfPlatforms(tx, orgId, ids)) {
      const packs = (await derivedPacks(tx, orgId, platformIds, climates)).filter((pack) => wanted === null || wanted.has(cellKey(pack)));
      await storePacks(tx, orgId, packs);
      const cells = packs.map(({ lot, ...cell }) => ({ cell, episodes: columnsOfLots([lot], shopIds) }));
      for (const [v, view] of views.entries()) figures[v]!.push(...cellFigures(cells, view));
      for (const pack of packs) found.add(cellKey(pack));
    }
    const gone = (changed ?? stored).filter((cell) => !found.has(cellKey(cell)));
    await deletePacks(tx, orgId, gone);
    return figures;
  }
}

/** Platforms whose episodes are read together: all of them where they are few. */
async function lotsOfPlatforms(tx: Tx, orgId: string, platforms: readonly { readonly id: string }[]): Promise<string[][]> {
  const total = await countEpisodes(tx, orgId, SPANS_AT_A_TIME);
  const together = total < SPANS_AT_A_TIME ? Math.max(1, platforms.length) : 1;
  const ids = platforms.map(({ id }) => id);
  return Array.from({ length: Math.ceil(ids.length / together) }, (_, i) => ids.slice(i * together, (i + 1) * together));
}

async function derivedPacks(
  tx: Tx,
  orgId: string,
  platformIds: readonly string[],
  climates: readonly ShopClimate[],
): Promise<(CellPack & { readonly lot: EpisodeLot })[]> {
  const shopIds = climates.map(({ id }) => id);
  return (await cellRecords(tx, orgId, platformIds)).map(({ platformId, fault, intent, parts }) => {
    const lot = lotOfRecords(parts, shopIds);
    return { platformId, fault, intent, lot, ...packOf(lot) };
  });
}

const standardHorizon = (clock: Clock): number => DEFAULT_HORIZONS[clock][1]!;

function isTrue(roll: BoardRoll | undefined, clock: Clock, { basis }: Region): roll is BoardRoll {
  return roll !== undefined && roll.basis === basis && roll.horizon === standardHorizon(clock);
}

/** Equal to the last digit: the same figures in the same order give the same board. */
function isSame(stored: StandingCell, derived: StandingCell | undefined): boolean {
  return derived !== undefined && (Object.keys(derived) as (keyof StandingCell)[]).every((key) => Object.is(stored[key], derived[key]));
}

function viewOf(clock: Clock, horizon: number, { climates, rules }: Region, asOf: Date): Viewpoint {
  return { clock, horizons: [horizon], clocks: clocksOf(climates, asOf, rules), asOf };
}

async function regionOf(tx: Tx, orgId: string): Promise<Region> {
  const parts = {
    platforms: await boardPlatforms(tx, orgId),
    climates: await shopClimates(tx, orgId),
    rules: await standingRules(tx, orgId),
  };
  return { ...parts, basis: basisOf(BOARD_RULES, parts) };
}
