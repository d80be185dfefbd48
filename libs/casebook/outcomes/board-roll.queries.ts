import { v7 as uuidv7 } from 'uuid';
import type { Clock, FaultCode, RepairIntent } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import type { StandingCell } from './board.js';

/** One place on the board. */
export interface BoardCell {
  readonly platformId: string;
  readonly fault: FaultCode;
  readonly intent: RepairIntent;
}

/** Notes that the episodes of these cells are no longer those of the last fold. Rows are only ever added here, so writers never wait for each other. */
export async function appendBoardChanges(tx: Tx, orgId: string, cells: readonly BoardCell[]): Promise<void> {
  if (cells.length === 0) return;
  await tx.query({
    name: 'board.append-changes',
    text: `insert into board_change (org_id, id, platform_id, fault, intent)
           select $1, c.* from unnest($2::uuid[], $3::uuid[], $4::text[], $5::text[]) as c`,
    values: [
      orgId,
      cells.map(() => uuidv7()),
      cells.map(({ platformId }) => platformId),
      cells.map(({ fault }) => fault),
      cells.map(({ intent }) => intent),
    ],
  });
}

/**
 * Takes the changes that are committed. Call before the episodes are read: whatever is committed in between is then read, and its own change is still there
 * for the next fold, which does no harm.
 */
export async function takeBoardChanges(tx: Tx, orgId: string): Promise<BoardCell[]> {
  const { rows } = await tx.query<BoardCell>({
    name: 'board.take-changes',
    text: `with taken as (delete from board_change where org_id = $1 returning platform_id, fault, intent)
           select distinct platform_id as "platformId", fault, intent from taken`,
    values: [orgId],
  });
  return rows;
}

/** Changes that no fold has taken yet; counted up to a thousand. */
export async function countBoardChanges(tx: Tx, orgId: string): Promise<number> {
  const { rows } = await tx.query<{ count: number }>({
    name: 'board.count-changes',
    text: 'select count(*)::int as count from (select 1 from board_change where org_id = $1 limit 1000) as c',
    values: [orgId],
  });
  return rows[0]!.count;
}

/** One fold of an organisation at a time. @returns false, without waiting, while another one runs. */
export async function lockBoards(tx: Tx, orgId: string): Promise<boolean> {
  const { rows } = await tx.query<{ locked: boolean }>({
    name: 'board.lock',
    text: 'select pg_try_advisory_xact_lock(hashtextextended($1, 0)) as locked',
    values: [`board ${orgId}`],
  });
  return rows[0]!.locked;
}

export interface BoardRoll {
  readonly clock: Clock;
  readonly horizon: number;
  readonly day: string;
  readonly basis: string;
  readonly madeAt: string;
}

export async function boardRolls(tx: Tx, orgId: string): Promise<BoardRoll[]> {
  const { rows } = await tx.query<BoardRoll>({
    name: 'board.rolls',
    text: 'select clock, horizon, day::text as day, basis, made_at as "madeAt" from board_roll where org_id = $1',
    values: [orgId],
  });
  return rows;
}

export async function boardLines(tx: Tx, orgId: string, clock: Clock): Promise<StandingCell[]> {
  const { rows } = await tx.query<StandingCell>({
    name: 'board.lines',
    text: `select platform_id as "platformId", fault, intent, episodes, linked, returns, shops, recent, own, effective_n as "effectiveN",
                  effective_events as "effectiveEvents", probability, low, high, borrowed, shown_from as "shownFrom"
             from board_line where org_id = $1 and clock = $2 order by platform_id, fault, intent`,
    values: [orgId, clock],
  });
  return rows;
}

export async function replaceBoard(tx: Tx, orgId: string, roll: BoardRoll, cells: readonly StandingCell[]): Promise<void> {
  await tx.query({
    name: 'board.delete-roll',
    text: 'delete from board_roll where org_id = $1 and clock = $2',
    values: [orgId, roll.clock],
  });
  await tx.query({
    name: 'board.insert-roll',
    text: 'insert into board_roll (org_id, clock, horizon, day, basis, made_at) values ($1, $2, $3, $4, $5, $6)',
    values: [orgId, roll.clock, roll.horizon, roll.day, roll.basis, roll.madeAt],
  });
  const column = <K extends keyof StandingCell>(key: K) => cells.map((cell) => cell[key]);
  await tx.query({
    name: 'board.insert-lines',
    text: `insert into board_line (org_id, clock, platform_id, fault, intent, episodes, linked, returns, shops, recent, own, effective_n, effective_events,
                                   probability, low, high, borrowed, shown_from)
           select $1, $2, l.* from unnest($3::uuid[], $4::text[], $5::text[], $6::int[], $7::int[], $8::int[], $9::int[], $10::int[], $11::float8[],
                                          $12::float8[], $13::float8[], $14::float8[], $15::float8[], $16::float8[], $17::float8[], $18::text[]) as l`,
    values: [
      orgId,
      roll.clock,
      column('platformId'),
      column('fault'),
      column('intent'),
      column('episodes'),
      column('linked'),
      column('returns'),
      column('shops'),
      column('recent'),
      column('own'),
      column('effectiveN'),
      column('effectiveEvents'),
      column('probability'),
      column('low'),
      column('high'),
      column('borrowed'),
      column('shownFrom'),
    ],
  });
}

/** How many episodes there are, counted no further than `most`. */
export async function countEpisodes(tx: Tx, orgId: string, most: number): Promise<number> {
  const { rows } = await tx.query<{ count: number }>({
    name: 'board.count-episodes',
    text: 'select count(*)::int as count from (select 1 from episode where org_id = $1 limit $2) as e',
    values: [orgId, most],
  });
  return rows[0]!.count;
}
