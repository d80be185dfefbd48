import type { Proof, Repair } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';

const REPAIR_COLUMNS = `id, case_id as "caseId", shop_id as "shopId", vehicle_id as "vehicleId", fault, action, intent, day::text as day, parts,
  recovered_g as "recoveredG", charged_g as "chargedG", machine_id as "machineId", labour_hours as "labourHours", cost, note, created_at as "createdAt"`;

export async function insertRepairs(tx: Tx, orgId: string, repairs: readonly Repair[]): Promise<void> {
  if (repairs.length === 0) return;
  const column = <T>(value: (repair: Repair) => T) => repairs.map(value);
  await tx.query({
    name: 'repairs.insert',
    text: `insert into repair (org_id, id, case_id, shop_id, vehicle_id, fault, action, intent, day, parts, recovered_g, charged_g, labour_hours, cost,
                               note, created_at, machine_id)
           select $1, id, case_id, shop_id, vehicle_id, fault, action, intent, day, parts::jsonb, recovered_g, charged_g, labour_hours, cost, note, created_at, machine_id
             from unnest($2::uuid[], $3::uuid[], $4::uuid[], $5::uuid[], $6::text[], $7::text[], $8::text[], $9::date[], $10::text[], $11::float8[],
                         $12::float8[], $13::float8[], $14::float8[], $15::text[], $16::timestamptz[], $17::uuid[])
               as row(id, case_id, shop_id, vehicle_id, fault, action, intent, day, parts, recovered_g, charged_g, labour_hours, cost, note, created_at, machine_id)`,
    values: [
      orgId,
      column((repair) => repair.id),
      column((repair) => repair.caseId),
      column((repair) => repair.shopId),
      column((repair) => repair.vehicleId),
      column((repair) => repair.fault),
      column((repair) => repair.action),
      column((repair) => repair.intent),
      column((repair) => repair.day),
      column((repair) => JSON.stringify(repair.parts)),
      column((repair) => repair.recoveredG),
      column((repair) => repair.chargedG),
      column((repair) => repair.labourHours),
      column((repair) => repair.cost),
      column((repair) => repair.note),
      column((repair) => repair.createdAt),
      column((repair) => repair.machineId),
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

export async function insertProofs(tx: Tx, orgId: string, proofs: readonly Proof[]): Promise<void> {
  if (proofs.length === 0) return;
  await tx.query({
    name: 'repairs.insert-proofs',
    text: `insert into proof (org_id, id, case_id, faults, method, note, created_at)
           select $1, id, case_id, faults::text[], method, note, created_at
             from unnest($2::uuid[], $3::uuid[], $4::text[], $5::text[], $6::text[], $7::timestamptz[]) as row(id, case_id, faults, method, note, created_at)`,
    values: [
      orgId,
      proofs.map(({ id }) => id),
      proofs.map(({ caseId }) => caseId),
      // Codes are letters and hyphens, as in cases.insert.
      proofs.map(({ faults }) => `{${faults.join()}}`),
      proofs.map(({ method }) => method),
      proofs.map(({ note }) => note),
      proofs.map(({ createdAt }) => createdAt),
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
