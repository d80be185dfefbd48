import type { NewPlatform, Platform } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';

/** Columns that lists and joins ask for; the rest of the description is one document. */
interface PlatformRow {
  readonly id: string;
  readonly version: number;
  readonly createdAt: string;
  readonly description: Omit<Platform, 'id' | 'version' | 'createdAt'>;
}

const COLUMNS = `id, version, created_at as "createdAt", description`;

const toPlatform = (row: PlatformRow): Platform => ({ id: row.id, version: row.version, createdAt: row.createdAt, ...row.description });

function values(orgId: string, id: string, platform: NewPlatform, at: Date): unknown[] {
  return [
    orgId,
    id,
    platform.code,
    platform.name,
    platform.family,
    platform.layout,
    platform.compressor,
    platform.refrigerant,
    platform.chargeG,
    platform.firstYear,
    platform.lastYear,
    platform.vinPatterns,
    JSON.stringify(platform),
    at.toISOString(),
  ];
}

export async function insertPlatform(tx: Tx, orgId: string, id: string, platform: NewPlatform, at: Date): Promise<void> {
  await tx.query({
    name: 'platforms.insert',
    text: `insert into platform (org_id, id, version, code, name, family, layout, compressor, refrigerant, charge_g, first_year, last_year,
                                 vin_patterns, description, created_at, updated_at)
           values ($1, $2, 1, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $14)`,
    values: values(orgId, id, platform, at),
  });
}

export async function updatePlatform(tx: Tx, orgId: string, id: string, platform: NewPlatform, at: Date): Promise<void> {
  await tx.query({
    name: 'platforms.update',
    text: `update platform set version = version + 1, code = $3, name = $4, family = $5, layout = $6, compressor = $7, refrigerant = $8,
                  charge_g = $9, first_year = $10, last_year = $11, vin_patterns = $12, description = $13, updated_at = $14
            where org_id = $1 and id = $2`,
    values: values(orgId, id, platform, at),
  });
}

export async function findPlatform(tx: Tx, orgId: string, id: string, options: { lock?: boolean } = {}): Promise<Platform | null> {
  const { rows } = await tx.query<PlatformRow>({
    name: options.lock ? 'platforms.lock' : 'platforms.find',
    text: `select ${COLUMNS} from platform where org_id = $1 and id = $2 ${options.lock ? 'for update' : ''}`,
    values: [orgId, id],
  });
  return rows[0] ? toPlatform(rows[0]) : null;
}

/** Platforms by identifier or code. */
export async function platformsNamed(tx: Tx, orgId: string, ids: readonly string[], codes: readonly string[]): Promise<Platform[]> {
  const { rows } = await tx.query<PlatformRow>({
    name: 'platforms.named',
    text: `select ${COLUMNS} from platform where org_id = $1 and (id = any($2) or code = any($3))`,
    values: [orgId, ids, codes],
  });
  return rows.map(toPlatform);
}

export interface VinPlatform {
  readonly id: string;
  readonly vinPatterns: readonly string[];
  readonly firstYear: number;
  readonly lastYear: number;
}

/** Platforms that are known by the beginning of a VIN. */
export async function platformsWithVinPatterns(tx: Tx, orgId: string): Promise<VinPlatform[]> {
  const { rows } = await tx.query<VinPlatform>({
    name: 'platforms.with-vin-patterns',
    text: `select id, vin_patterns as "vinPatterns", first_year as "firstYear", last_year as "lastYear" from platform
            where org_id = $1 and cardinality(vin_patterns) > 0 order by code`,
    values: [orgId],
  });
  return rows;
}

export async function listPlatforms(tx: Tx, orgId: string, after: string | null, limit: number): Promise<Platform[]> {
  const { rows } = await tx.query<PlatformRow>({
    name: 'platforms.list',
    text: `select ${COLUMNS} from platform where org_id = $1 and ($2::text is null or code > $2) order by code limit $3`,
    values: [orgId, after, limit],
  });
  return rows.map(toPlatform);
}

/** A layout has at most some hundreds of platforms; beyond that those added first are taken. */
const OF_A_LAYOUT_AT_MOST = 500;

export async function platformsOfLayout(tx: Tx, orgId: string, layout: Platform['layout']): Promise<Platform[]> {
  const { rows } = await tx.query<PlatformRow>({
    name: 'platforms.of-layout',
    text: `select ${COLUMNS} from platform where org_id = $1 and layout = $2 order by id limit ${OF_A_LAYOUT_AT_MOST}`,
    values: [orgId, layout],
  });
  return rows.map(toPlatform);
}

export async function platformsByIds(tx: Tx, orgId: string, ids: readonly string[]): Promise<Platform[]> {
  const { rows } = await tx.query<PlatformRow>({
    name: 'platforms.by-ids',
    text: `select ${COLUMNS} from platform where org_id = $1 and id = any($2)`,
    values: [orgId, ids],
  });
  return rows.map(toPlatform);
}
