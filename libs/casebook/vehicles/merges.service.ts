import { v7 as uuidv7 } from 'uuid';
import type { NewVehicleMerge, VehicleMerge } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import { type Actor, requirePermission } from '../access/actor.js';
import { appendAudit } from '../audit/audit.queries.js';
import type { CasebookContext } from '../context.js';
import { NeedsAllShops } from '../events/webhooks.errors.js';
import type { LinkingService, RelinkedEpisode } from '../outcomes/linking.service.js';
import { endMerge, insertMerge, lockMerge, mergesOf, moveVisits, setMergedInto, standingVehicle } from './merges.queries.js';
import { MergeNotFound, MergeRefused, VehicleNotFound } from './vehicles.errors.js';
import { findVehicle, lockVehicles, type NamedVehicle, updateVehicles } from './vehicles.queries.js';

/** Two records found to be of one car: a plate and a VIN, or a VIN that was once mistyped. */
export class MergesService {
  constructor(
    private readonly context: CasebookContext,
    private readonly linking: LinkingService,
  ) {}

  /**
   * Moves the visits of `mergedId` to this vehicle and links its repairs again. The other record stays, empty, so that its VIN or plate leads here
   * from then on and the merge can be undone.
   */
  async mergeVehicles(actor: Actor, vehicleId: string, input: NewVehicleMerge): Promise<VehicleMerge> {
    this.judgeActor(actor);
    return this.context.inTenant(actor.orgId, async (tx) => {
      const { orgId } = actor;
      const { mergedId, reason } = input;
      if (mergedId === vehicleId) throw new MergeRefused('A record cannot be merged into itself.', 'Name the other record.');
      const [kept, merged] = await this.lockBoth(tx, orgId, vehicleId, mergedId);
      for (const { id, mergedInto } of [kept, merged]) {
        if (mergedInto === null) continue;
        const standing = await standingVehicle(tx, orgId, id);
        throw new MergeRefused(`Record ${id} has been merged into ${standing} already.`, `Name ${standing}, or undo that merge first.`);
      }
      if (merged.linkedBy === 'vin' && kept.linkedBy !== 'vin') {
        throw new MergeRefused('The record to be merged carries the VIN, the one to be kept does not.', 'Merge them the other way round.');
      }
      const at = this.context.clock();
      const moved = await moveVisits(tx, orgId, mergedId, vehicleId, null);
      await updateVehicles(tx, orgId, [
        { ...kept, platformId: kept.platformId ?? merged.platformId, modelYear: kept.modelYear ?? merged.modelYear },
      ]);
      await setMergedInto(tx, orgId, mergedId, vehicleId);
      const merge = await insertMerge(tx, orgId, { id: uuidv7(), vehicleId, mergedId, reason, ...moved }, at);
      await this.relink(tx, actor, 'vehicle.merged', merge, [mergedId, vehicleId], at);
      return merge;
    });
  }

  async listMerges(actor: Actor, vehicleId: string): Promise<VehicleMerge[]> {
    requirePermission(actor, 'vehicles:read');
    return this.context.inTenant(actor.orgId, async (tx) => {
      if (!(await findVehicle(tx, actor.orgId, vehicleId))) throw new VehicleNotFound();
      return mergesOf(tx, actor.orgId, vehicleId);
    });
  }

  /** Takes a merge back: what was moved then goes back; what came since stays with the record that was kept. */
  async undoMerge(actor: Actor, vehicleId: string, mergeId: string): Promise<VehicleMerge> {
    this.judgeActor(actor);
    return this.context.inTenant(actor.orgId, async (tx) => {
      const { orgId } = actor;
      const named = (await mergesOf(tx, orgId, vehicleId)).find(({ id }) => id === mergeId);
      if (!named) throw new MergeNotFound(mergeId);
      // The vehicles first, as everywhere: who forgets one of them holds it, and takes the merge away.
      await this.lockBoth(tx, orgId, named.vehicleId, named.mergedId);
      const { caseIds, sightingIds, ...merge } = (await lockMerge(tx, orgId, mergeId))!;
      if (merge.undoneAt !== null) return merge;
      const standing = await standingVehicle(tx, orgId, merge.vehicleId);
      if (standing !== merge.vehicleId) {
        throw new MergeRefused(`The record that was kept has itself been merged into ${standing}.`, 'Undo that merge first.');
      }
      const at = this.context.clock();
      await moveVisits(tx, orgId, merge.vehicleId, merge.mergedId, { caseIds, sightingIds });
      await setMergedInto(tx, orgId, merge.mergedId, null);
      const undone = await endMerge(tx, orgId, mergeId, at);
      await this.relink(tx, actor, 'vehicle.unmerged', undone, [merge.vehicleId, merge.mergedId], at);
      return undone;
    });
  }

  private judgeActor(actor: Actor): void {
    requirePermission(actor, 'vehicles:write');
    // Cases of every shop may move.
    if (actor.shopIds !== null) throw new NeedsAllShops();
  }

  /** Locks are taken in the order of the identifiers, so that two merges that cross cannot wait for each other. */
  private async lockBoth(tx: Tx, orgId: string, keptId: string, mergedId: string): Promise<[NamedVehicle, NamedVehicle]> {
    const found = await lockVehicles(tx, orgId, [keptId, mergedId]);
    const [kept, merged] = [keptId, mergedId].map((id) => found.find((one) => one.id === id));
    if (!kept || !merged) throw new VehicleNotFound();
    return [kept, merged];
  }

  /** The record that visits were taken from first: it loses their episodes, the other gets them. */
  private async relink(tx: Tx, actor: Actor, action: string, merge: VehicleMerge, ids: readonly string[], at: Date): Promise<void> {
    const changes: RelinkedEpisode[] = [];
    for (const id of ids) changes.push(...(await this.linking.relinkVehicle(tx, actor.orgId, id)));
    const relinked = changes.map(({ repairId, from, to }) => ({ repairId, from, to }));
    for (const id of ids) {
      await appendAudit(
        tx,
        actor,
        at,
        action,
        { type: 'vehicle', id },
        { mergeId: merge.id, kept: merge.vehicleId, merged: merge.mergedId, relinked },
      );
    }
  }
}
