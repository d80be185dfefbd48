import { v7 as uuidv7 } from 'uuid';
import type { NewSighting, Platform, Sighting, Vehicle, VehicleInput, VehicleLookup, Warning } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import { type Actor, mayOpenShop, requirePermission } from '../access/actor.js';
import { appendAudit } from '../audit/audit.queries.js';
import { odometerKm } from '../cases/quantities.js';
import type { CasebookContext } from '../context.js';
import type { LinkingService } from '../outcomes/linking.service.js';
import { platformsForVin } from '../platforms/platforms.queries.js';
import type { PlatformsService } from '../platforms/platforms.service.js';
import { ShopNotFound } from '../shops/shops.errors.js';
import { findShop } from '../shops/shops.queries.js';
import { identityHash, plainPlate } from './identity-hash.js';
import { organisationKey } from './organisation-key.js';
import { VehicleNotFound, VehicleUnnamed } from './vehicles.errors.js';
import {
  completeVehicle,
  findVehicle,
  findVehicleByPlate,
  findVehicleByVin,
  insertVehicle,
  lockVehicle,
  upsertSighting,
} from './vehicles.queries.js';
import { readVin, vinMatches } from './vin.js';

export class VehiclesService {
  constructor(
    private readonly context: CasebookContext,
    private readonly platforms: PlatformsService,
    private readonly linking: LinkingService,
  ) {}

  async getVehicle(actor: Actor, id: string): Promise<Vehicle> {
    requirePermission(actor, 'vehicles:read');
    return this.context.inTenant(actor.orgId, async (tx) => {
      const vehicle = await findVehicle(tx, actor.orgId, id);
      if (!vehicle) throw new VehicleNotFound();
      return vehicle;
    });
  }

  /** The vehicle with this VIN, else with this plate. @throws VehicleNotFound, VehicleUnnamed */
  async lookUpVehicle(actor: Actor, input: VehicleLookup): Promise<Vehicle> {
    requirePermission(actor, 'vehicles:read');
    if (input.vin === undefined && input.plate === undefined) throw new VehicleUnnamed();
    return this.context.inTenant(actor.orgId, async (tx) => {
      const key = await organisationKey(this.context, tx, actor.orgId);
      const year = this.context.clock().getUTCFullYear() + 1;
      const byVin =
        input.vin === undefined ? null : await findVehicleByVin(tx, actor.orgId, identityHash('vin', readVin(input.vin, year).vin, key));
      const found =
        byVin ??
        (input.plate === undefined ? null : await findVehicleByPlate(tx, actor.orgId, identityHash('plate', plainPlate(input.plate), key)));
      if (!found) throw new VehicleNotFound();
      return found;
    });
  }

  /** Records that a vehicle was seen, for any job: it was still around, and had run this far. */
  async recordSighting(actor: Actor, input: NewSighting): Promise<Sighting> {
    requirePermission(actor, 'vehicles:write');
    return this.context.inTenant(actor.orgId, async (tx) => {
      const shop = mayOpenShop(actor, input.shopId) ? await findShop(tx, actor.orgId, input.shopId) : null;
      if (!shop) throw new ShopNotFound(input.shopId, '/shopId');
      const { vehicle } = await this.identify(tx, actor, input.vehicle, '/vehicle');
      const km = input.odometer ? odometerKm(input.odometer, '/odometer') : null;
      const id = await upsertSighting(tx, actor.orgId, {
        id: uuidv7(),
        vehicleId: vehicle.id,
        shopId: shop.id,
        day: input.day,
        odometerKm: km,
      });
      await this.linking.relinkVehicle(tx, actor.orgId, vehicle.id);
      await appendAudit(tx, actor, this.context.clock(), 'vehicle.sighted', { type: 'vehicle', id: vehicle.id }, { day: input.day });
      return { id, vehicleId: vehicle.id, shopId: shop.id, day: input.day, odometerKm: km };
    });
  }

  /**
   * Finds or creates the vehicle a request names, locked for the rest of the transaction. A car without VIN and plate gets a vehicle of its own
   * that nothing will ever join; an odd VIN is accepted with a warning.
   */
  async identify(
    tx: Tx,
    actor: Actor,
    input: VehicleInput,
    pointer: string,
  ): Promise<{ vehicle: Vehicle; platform: Platform | null; warnings: Warning[] }> {
    const at = this.context.clock();
    const warnings: Warning[] = [];
    const key = await organisationKey(this.context, tx, actor.orgId);
    const facts = input.vin === undefined ? null : readVin(input.vin, at.getUTCFullYear() + 1);
    if (facts && input.vinChecked !== true) {
      for (const doubt of facts.doubts) warnings.push({ pointer: `${pointer}/vin`, ...doubt });
    }
    const modelYear = input.modelYear ?? facts?.modelYear ?? null;
    const named = await this.platforms.resolvePlatform(tx, actor, input, pointer);
    let platformId = named?.id ?? null;
    if (platformId === null && facts) {
      const fitting = (await platformsForVin(tx, actor.orgId, modelYear)).filter((p) =>
        p.vinPatterns.some((pattern) => vinMatches(facts.vin, pattern)),
      );
      if (fitting.length === 1) platformId = fitting[0]!.id;
      if (fitting.length > 1) {
        warnings.push({
          pointer: `${pointer}/platformId`,
          code: 'platform-ambiguous',
          detail: `${fitting.length} platforms fit this VIN; none was chosen.`,
          remedy: 'Name the platform, or narrow the VIN patterns of the platforms.',
        });
      }
    }
    const vinHash = facts ? identityHash('vin', facts.vin, key) : null;
    const plateHash = input.plate === undefined ? null : identityHash('plate', plainPlate(input.plate), key);
    const row = {
      id: uuidv7(),
      vinHash,
      plateHash,
      platformId,
      modelYear,
      maker: facts?.maker ?? null,
      plant: facts?.plant ?? null,
      sequenceBucket: facts?.sequenceBucket ?? null,
    };
    let vehicle = vinHash
      ? await findVehicleByVin(tx, actor.orgId, vinHash)
      : plateHash
        ? await findVehicleByPlate(tx, actor.orgId, plateHash)
        : null;
    if (!vehicle) {
      vehicle = await insertVehicle(tx, actor.orgId, row, at);
      // Another transaction stored the same VIN between our look and our insert: that row is the vehicle.
      if (!vehicle) vehicle = await findVehicleByVin(tx, actor.orgId, vinHash!);
    }
    vehicle = (await lockVehicle(tx, actor.orgId, vehicle!.id))!;
    if ((vehicle.platformId === null && platformId !== null) || (vehicle.modelYear === null && modelYear !== null) || plateHash !== null) {
      vehicle = await completeVehicle(tx, actor.orgId, vehicle.id, { platformId, modelYear, plateHash });
    }
    if (platformId !== null && vehicle.platformId !== platformId) {
      warnings.push({
        pointer: `${pointer}/platformId`,
        code: 'platform-differs',
        detail: 'This vehicle is already known with another platform, which was kept.',
        remedy: 'If the earlier platform is wrong, amend it on the case.',
      });
    }
    if (vehicle.platformId === null) {
      warnings.push({
        pointer: `${pointer}/platformId`,
        code: 'platform-unknown',
        detail: 'No platform is known for this vehicle, so the engine can only answer for the readings themselves.',
        remedy: 'Name one with platformId or platformCode.',
      });
    }
    const platform =
      vehicle.platformId === (named?.id ?? null)
        ? named
        : await this.platforms.resolvePlatform(tx, actor, { platformId: vehicle.platformId ?? undefined }, pointer);
    return { vehicle, platform, warnings };
  }
}
