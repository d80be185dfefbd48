import type { Proof, Repair } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';

const REPAIR_COLUMNS = `id, case_id as "caseId", shop_id as "shopId", vehicle_id as "vehicleId", fault, action, intent, day::text as day, parts,
  recovered_g as "recoveredG", charged_g as "chargedG", labour_hours as "labourHours", cost, note, created_at as "createdAt"`;

export async function insertRepair(tx: Tx, orgId: string, repair: Repair): Promise<void> {
  await tx.query({
    name: 'repairs.insert',
    text: `insert into repair (org_id, id, case_id, shop_id, vehicle_id, fault, action, intent, day, parts, recovered_g, charged_g, labour_hours, cost,
                               note, created_at)
           values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16)`,
    values: [
      orgId,
      repair.id,
      repair.caseId,
      repair.shopId,
      repair.vehicleId,
      repair.fault,
      repair.action,
      repair.intent,
      repair.day,
      JSON.stringify(repair.parts),
      repair.recoveredG,
      repair.chargedG,
      repair.labourHours,
      repair.cost,
      repair.note,
      repair.createdAt,
    ],
  });
}

export async function repairsOfCases(tx: Tx, orgId: string, caseIds: readonly string[]): Promise<Repair[]> {
  const { rows } = await tx.query<Repair>({
    name: 'repairs.of-cases',
    text: `select ${REPAIR_COLUMNS} from repair where org_id = $1 and case_id = any($2) order by day, id`,
    values: [orgId, caseIds],
  });
  return rows;
}

export async function repairsOfVehicle(tx: Tx, orgId: string, vehicleId: string): Promise<Repair[]> {
  const { rows } = await tx.query<Repair>({
    name: 'repairs.of-vehicle',
    text: `select ${REPAIR_COLUMNS} from repair where org_id = $1 and vehicle_id = $2 order by day, id`,
    values: [orgId, vehicleId],
  });
  return rows;
}

/** Repairs follow their case when it turns out to be about another vehicle. */
export async function moveRepairs(tx: Tx, orgId: string, caseId: string, vehicleId: string | null): Promise<void> {
  await tx.query({
    name: 'repairs.move',
    text: 'update repair set vehicle_id = $3 where org_id = $1 and case_id = $2',
    values: [orgId, caseId, vehicleId],
  });
}

export async function insertProof(tx: Tx, orgId: string, proof: Proof): Promise<void> {
  await tx.query({
    name: 'repairs.insert-proof',
    text: 'insert into proof (org_id, id, case_id, faults, method, note, created_at) values ($1, $2, $3, $4, $5, $6, $7)',
    values: [orgId, proof.id, proof.caseId, proof.faults, proof.method, proof.note, proof.createdAt],
  });
}

export async function proofsOfCases(tx: Tx, orgId: string, caseIds: readonly string[]): Promise<Proof[]> {
  const { rows } = await tx.query<Proof>({
    name: 'repairs.proofs-of-cases',
    text: `select id, case_id as "caseId", faults, method, note, created_at as "createdAt"
             from proof where org_id = $1 and case_id = any($2) order by created_at, id`,
    values: [orgId, caseIds],
  });
  return rows;
}
