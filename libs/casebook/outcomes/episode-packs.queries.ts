import type { FaultCode, RepairIntent } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import type { BoardCell } from './board-roll.queries.js';
import { type ActionRecords, PACK_LAYOUT, type Pack } from './episode-lots.js';

/** Which cells are asked for; absent: all. */
export interface AskedCells {
  readonly platformIds?: readonly string[] | undefined;
  readonly fault?: FaultCode | undefined;
  readonly intent?: RepairIntent | undefined;
}

/** A cell's pack, without its bytes where they are known; or records of a cell that has changed since it was packed, or of episodes that stand in no cell. */
export type PackedRow =
  | (BoardCell & { readonly digest: string; readonly columns: string | null; readonly distances: string | null })
  | (Omit<BoardCell, 'platformId'> & {
      readonly platformId: string | null;
      readonly digest: null;
      readonly action: string;
      readonly columns: string;
    });

/** Whether the organisation's episodes were ever packed as this program packs them: since then every change is noted. */
export async function isPacked(tx: Tx, orgId: string): Promise<boolean> {
  const { rowCount } = await tx.query({
    name: 'packs.is-packed',
    text: 'select from episode_packing where org_id = $1 and layout = $2',
    values: [orgId, PACK_LAYOUT],
  });
  return rowCount > 0;
}

/**
 * The episodes of the cells asked for in one statement, and so at one moment: packs of cells for which no change waits, records of the others, and records of
 * episodes without a platform, which no cell holds. Of packs whose digests are `known` the digest alone.
 */
export async function packedEpisodes(
  tx: Tx,
  orgId: string,
  asked: AskedCells,
  known: readonly string[],
  withDistances: boolean,
): Promise<PackedRow[]> {
  const values: unknown[] = [orgId, known];
  const used: string[] = [];
  const conditions: ((alias: string) => string)[] = [];
  const add = (name: string, value: unknown, condition: (alias: string, parameter: string) => string) => {
    if (value === undefined) return;
    values.push(value);
    used.push(name);
    const parameter = `$${values.length}`;
    conditions.push((alias) => condition(alias, parameter));
  };
  add('platforms', asked.platformIds, (alias, p) => `${alias}.platform_id = any(${p}::uuid[])`);
  add('fault', asked.fault, (alias, p) => `${alias}.fault = ${p}`);
  add('intent', asked.intent, (alias, p) => `${alias}.intent = ${p}`);
  const where = (alias: string) => conditions.map((condition) => ` and ${condition(alias)}`).join('');
  const base64 = (of: string) => `encode(${of}, 'base64')`;
  const records = base64(`string_agg(e.record, ''::bytea)`);
  const unplaced =
    asked.platformIds !== undefined
      ? ''
      : `union all
           select null, e.fault, e.intent, null, e.action, ${records}, null
             from episode e where e.org_id = $1${where('e')} and e.platform_id is null group by e.fault, e.intent, e.action`;
  const unlessKnown = (of: string) => `case when p.digest = any($2::text[]) then null else ${base64(of)} end`;
  const { rows } = await tx.query<PackedRow>({
    name: `packs.read.${used.join('.')}.${withDistances ? 'distances' : ''}.`,
    text: `with changed as materialized (select distinct c.platform_id, c.fault, c.intent from board_change c where c.org_id = $1${where('c')})
           select p.platform_id as "platformId", p.fault, p.intent, p.digest, null as action, ${unlessKnown('p.columns')} as columns,
                  ${withDistances ? unlessKnown('p.distances') : 'null'} as distances
             from episode_pack p
            where p.org_id = $1${where('p')}
              and not exists (select from changed c where c.platform_id = p.platform_id and c.fault = p.fault and c.intent = p.intent)
           union all
           select c.platform_id, c.fault, c.intent, null, r.action, r.records, null
             from changed c
            cross join lateral (select e.action, ${records} as records from episode e
                                 where e.org_id = $1 and e.platform_id = c.platform_id and e.fault = c.fault and e.intent = c.intent
                                 group by e.action) r
           ${unplaced}`,
    values,
  });
  return rows;
}

/** Records of a cell, the same bytes whatever the database comes by first. */
export interface CellRecords extends BoardCell {
  readonly parts: readonly ActionRecords[];
}

export async function cellRecords(tx: Tx, orgId: string, platformIds: readonly string[]): Promise<CellRecords[]> {
  const { rows } = await tx.query<BoardCell & { action: string; records: string }>({
    name: 'packs.records',
    text: `select e.platform_id as "platformId", e.fault, e.intent, e.action, encode(string_agg(e.record, ''::bytea order by e.record), 'base64') as records
             from episode e
            where e.org_id = $1 and e.platform_id = any($2::uuid[])
            group by e.platform_id, e.fault, e.intent, e.action
            order by e.platform_id, e.fault, e.intent`,
    values: [orgId, platformIds],
  });
  const cells: (BoardCell & { parts: ActionRecords[] })[] = [];
  for (const { platformId, fault, intent, action, records } of rows) {
    const last = cells.at(-1);
    const isSame = last !== undefined && last.platformId === platformId && last.fault === fault && last.intent === intent;
    const cell = isSame ? last : { platformId, fault, intent, parts: [] };
    if (!isSame) cells.push(cell);
    cell.parts.push({ action, records: Buffer.from(records, 'base64') });
  }
  return cells;
}

export type CellPack = BoardCell & Pack;

/** Stores packs; those whose bytes are already there are left alone. */
export async function storePacks(tx: Tx, orgId: string, packs: readonly CellPack[]): Promise<void> {
  if (packs.length === 0) return;
  const column = <K extends keyof CellPack>(key: K) => packs.map((pack) => pack[key]);
  await tx.query({
    name: 'packs.store',
    text: `insert into episode_pack as p (org_id, platform_id, fault, intent, episodes, digest, columns, distances)
           select $1, n.* from unnest($2::uuid[], $3::text[], $4::text[], $5::int[], $6::text[], $7::bytea[], $8::bytea[]) as n
           on conflict (org_id, platform_id, fault, intent) do update
              set episodes = excluded.episodes, digest = excluded.digest, columns = excluded.columns, distances = excluded.distances
            where p.digest <> excluded.digest`,
    values: [
      orgId,
      column('platformId'),
      column('fault'),
      column('intent'),
      column('episodes'),
      column('digest'),
      column('columns'),
      column('distances'),
    ],
  });
}

export async function deletePacks(tx: Tx, orgId: string, cells: readonly BoardCell[]): Promise<void> {
  if (cells.length === 0) return;
  await tx.query({
    name: 'packs.delete',
    text: `delete from episode_pack where org_id = $1 and (platform_id, fault, intent) in (select * from unnest($2::uuid[], $3::text[], $4::text[]))`,
    values: [orgId, cells.map(({ platformId }) => platformId), cells.map(({ fault }) => fault), cells.map(({ intent }) => intent)],
  });
}

/** The packs there are, with their digest and that of the bytes that are really there. */
export async function packDigests(tx: Tx, orgId: string): Promise<(BoardCell & { readonly digest: string; readonly actual: string })[]> {
  const { rows } = await tx.query<BoardCell & { digest: string; actual: string }>({
    name: 'packs.digests',
    text: `select platform_id as "platformId", fault, intent, digest, left(encode(sha256(columns || distances), 'hex'), 32) as actual
             from episode_pack where org_id = $1`,
    values: [orgId],
  });
  return rows;
}

/** From now on the packs are to be read. */
export async function markPacked(tx: Tx, orgId: string): Promise<void> {
  await tx.query({
    name: 'packs.mark',
    text: `insert into episode_packing (org_id, layout) values ($1, $2) on conflict (org_id) do update set layout = excluded.layout`,
    values: [orgId, PACK_LAYOUT],
  });
}
