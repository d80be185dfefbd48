import type { Proof, Repair } from '#libs/contracts/index.js';
import { float8Array, jsonbArray, type Tx, textArray, uuidArray } from '#libs/database/index.js';

const REPAIR_COLUMNS = `id, case_id as "caseId", shop_id as "shopId", vehicle_id as "vehicleId", fault, action, intent, day::text as day, parts,
  recovered_g as "recoveredG", charged_g as "chargedG", machine_id as "machineId", labour_hours as "labourHours", cost, note, created_at as "createdAt"`;

export async function insertRepairs(tx: Tx, orgId: string, repairs: readonly Repair[]): Promise<void> {
  if (repairs.length === 0) return;
  const column = <T>(value: (repair: Repair) => T) => repairs.map(value);
  await tx.query({
    name: 'repairs.insert',
    text: `insert into repair (org_id, id, case_id, shop_id, vehicle_id, fault, action, intent, day, parts, recovered_g, charged_g, labour_hours, cost,
                               note, created_at, machine_id)
           select $1, id, case_id, shop_id, vehicle_id, fault, action, intent, day::date, parts, recovered_g, charged_g, labour_hours, cost, note,
                  created_at::timestamptz, machine_id
             from unnest($2::uuid[], $3::uuid[], $4::uuid[], $5::uuid[], $6::text[], $7::text[], $8::text[], $9::text[], $10::jsonb[], $11::float8[],
                         $12::float8[], $13::float8[], $14::float8[], $15::text[], $16::text[], $17::uuid[])
               as row(id, case_id, shop_id, vehicle_id, fault, action, intent, day, parts, recovered_g, charged_g, labour_hours, cost, note, created_at, machine_id)`,
    values: [
      orgId,
      uuidArray(column((repair) => repair.id)),
      uuidArray(column((repair) => repair.caseId)),
      uuidArray(column((repair) => repair.shopId)),
      uuidArray(column((repair) => repair.vehicleId)),
      textArray(column((repair) => repair.fault)),
      textArray(column((repair) => repair.action)),
      textArray(column((repair) => repair.intent)),
      textArray(column((repair) => repair.day)),
      jsonbArray(column((repair) => JSON.stringify(repair.parts))),
      float8Array(column((repair) => repair.recoveredG)),
      float8Array(column((repair) => repair.chargedG)),
      float8Array(column((repair) => repair.labourHours)),
      float8Array(column((repair) => repair.cost)),
      textArray(column((repair) => repair.note)),
      textArray(column((repair) => repair.createdAt)),
      uuidArray(column((repair) => repair.machineId)),
    ],
  });
}

/** Writes a repair that is stored again, whole. */
export async function updateRepair(tx: Tx, orgId: string, repair: Repair): Promise<void> {
  await tx.query({
    name: 'repairs.update',
    text: `update repair set fault = $3, action = $4, intent = $5, day = $6::date, parts = $7::jsonb, recovered_g = $8, charged_g = $9, machine_id = $10,
                             labour_hours = $11, cost = $12, note = $13
            where org_id = $1 and id = $2`,
    values: [
      orgId,
      repair.id,
      repair.fault,
      repair.action,
      repair.intent,
      repair.day,
      JSON.stringify(repair.parts),
      repair.recoveredG,
      repair.chargedG,
      repair.machineId,
      repair.labourHours,
      repair.cost,
      repair.note,
    ],
  });
}

export async function deleteRepair(tx: Tx, orgId: string, id: string): Promise<void> {
  await tx.query({ name: 'repairs.delete', text: 'delete from repair where org_id = $1 and id = $2', values: [orgId, id] });
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

export async function insertProofs(tx: Tx, orgId: string, proofs: readonly Proof[]): Promise<void> {
  if (proofs.length === 0) return;
  await tx.query({
    name: 'repairs.insert-proofs',
    text: `insert into proof (org_id, id, case_id, faults, method, note, created_at)
           select $1, id, case_id, faults::text[], method, note, created_at::timestamptz
             from unnest($2::uuid[], $3::uuid[], $4::text[], $5::text[], $6::text[], $7::text[]) as row(id, case_id, faults, method, note, created_at)`,
    values: [
      orgId,
      uuidArray(proofs.map(({ id }) => id)),
      uuidArray(proofs.map(({ caseId }) => caseId)),
      // Codes are letters and hyphens, as in cases.insert.
      textArray(proofs.map(({ faults }) => `{${faults.join()}}`)),
      textArray(proofs.map(({ method }) => method)),
      textArray(proofs.map(({ note }) => note)),
      textArray(proofs.map(({ createdAt }) => createdAt)),
    ],
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
