import type { Photograph, PhotographType } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';

const COLUMNS = `id, case_id as "caseId", subject, stage, caption, media_type as "mediaType", width_px as "widthPx", height_px as "heightPx",
  length(picture) as bytes, encode(sha256, 'hex') as sha256,
  created_at as "createdAt"`;

interface Row extends Omit<Photograph, 'stage' | 'caption'> {
  readonly stage: NonNullable<Photograph['stage']> | null;
  readonly caption: string | null;
}
const toPhotograph = ({ stage, caption, ...row }: Row): Photograph => ({
  ...row,
  ...(stage === null ? {} : { stage }),
  ...(caption === null ? {} : { caption }),
});

export async function insertPhotograph(tx: Tx, orgId: string, photograph: Photograph, picture: Buffer): Promise<void> {
  await tx.query({
    name: 'photographs.insert',
    text: `insert into photograph (org_id, id, case_id, subject, stage, caption, media_type, width_px, height_px, picture, sha256, created_at)
           values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, decode($11, 'hex'), $12)`,
    values: [
      orgId,
      photograph.id,
      photograph.caseId,
      photograph.subject,
      photograph.stage ?? null,
      photograph.caption ?? null,
      photograph.mediaType,
      photograph.widthPx,
      photograph.heightPx,
      picture,
      photograph.sha256,
      photograph.createdAt,
    ],
  });
}

export async function photographsOfCase(tx: Tx, orgId: string, caseId: string): Promise<Photograph[]> {
  const { rows } = await tx.query<Row>({
    name: 'photographs.of-case',
    text: `select ${COLUMNS} from photograph where org_id = $1 and case_id = $2 order by id`,
    values: [orgId, caseId],
  });
  return rows.map(toPhotograph);
}

export interface StoredPicture {
  readonly mediaType: PhotographType;
  readonly sha256: string;
  readonly picture: Buffer;
}

export async function findPicture(tx: Tx, orgId: string, caseId: string, id: string): Promise<StoredPicture | null> {
  const { rows } = await tx.query<StoredPicture>({
    name: 'photographs.picture',
    text: 'select media_type as "mediaType", encode(sha256, \'hex\') as sha256, picture from photograph where org_id = $1 and case_id = $2 and id = $3',
    values: [orgId, caseId, id],
  });
  return rows[0] ?? null;
}

export async function deletePhotograph(tx: Tx, orgId: string, caseId: string, id: string): Promise<boolean> {
  const { rowCount } = await tx.query({
    name: 'photographs.delete',
    text: 'delete from photograph where org_id = $1 and case_id = $2 and id = $3',
    values: [orgId, caseId, id],
  });
  return rowCount > 0;
}

/** A picture may show a plate: those of a vehicle that is forgotten go with its name. */
export async function deletePhotographsOfVehicle(tx: Tx, orgId: string, vehicleId: string): Promise<void> {
  await tx.query({
    name: 'photographs.delete-of-vehicle',
    text: `delete from photograph p using shop_case c
            where p.org_id = $1 and c.org_id = $1 and c.id = p.case_id and c.vehicle_id = $2`,
    values: [orgId, vehicleId],
  });
}
