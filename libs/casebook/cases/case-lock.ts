import type { Tx } from '#libs/database/index.js';
import type { Actor } from '../access/actor.js';
import { VehicleMoved } from '../vehicles/vehicle-moved.js';
import { lockVehicleOfCase } from '../vehicles/vehicles.queries.js';
import { CaseNotFound } from './cases.errors.js';
import { type CaseRow, findCase } from './cases.queries.js';

/**
 * The case's row, locked until the transaction ends. Its vehicle is locked first, as everywhere: whoever relinks a vehicle holds it and then
 * reads and writes its cases, so the other order could wait in a circle.
 * @throws CaseNotFound also when it belongs to a shop this credential may not open.
 */
export async function lockCase(tx: Tx, actor: Actor, id: string): Promise<CaseRow> {
  const vehicleId = await lockVehicleOfCase(tx, actor.orgId, id);
  const row = await findCase(tx, actor.orgId, actor.shopIds, id, { lockUnder: vehicleId });
  if (row) return row;
  if (!(await findCase(tx, actor.orgId, actor.shopIds, id))) throw new CaseNotFound(id);
  throw new VehicleMoved(`case ${id}`);
}
