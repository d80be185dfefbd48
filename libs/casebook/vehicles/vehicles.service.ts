import { v7 as uuidv7 } from 'uuid';
import type { NewSighting, Sighting, Vehicle, VehicleInput, VehicleLookup } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import { type Actor, mayOpenShop, requirePermission } from '../access/actor.js';
import { appendAudit } from '../audit/audit.queries.js';
import { odometerKm } from '../cases/quantities.js';
import type { CasebookContext } from '../context.js';
import type { LinkingService } from '../outcomes/linking.service.js';
import type { PlatformsService } from '../platforms/platforms.service.js';
import { ShopNotFound } from '../shops/shops.errors.js';
import { findShop } from '../shops/shops.queries.js';
import { identityHash, plainPlate } from './identity-hash.js';
import { standingVehicle } from './merges.queries.js';
import { organisationKey } from './organisation-key.js';
import { type Identified, VehicleBook } from './vehicle-book.js';
import { VehicleNotFound, VehicleUnnamed } from './vehicles.errors.js';
import { findVehicle, findVehicleByPlate, findVehicleByVin, upsertSightings, vehiclesByIds } from './vehicles.queries.js';
import { readVin } from './vin.js';

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

  /** Several at once, for lists that show their vehicles. */
  async vehiclesByIds(actor: Actor, ids: readonly string[]): Promise<Vehicle[]> {
    requirePermission(actor, 'vehicles:read');
    return this.context.inTenant(actor.orgId, (tx) => vehiclesByIds(tx, actor.orgId, ids));
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
      return found.mergedInto === null ? found : (await findVehicle(tx, actor.orgId, await standingVehicle(tx, actor.orgId, found.id)))!;
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
      const [id] = await upsertSightings(tx, actor.orgId, [
        { id: uuidv7(), vehicleId: vehicle.id, shopId: shop.id, day: input.day, odometerKm: km },
      ]);
      await this.linking.relinkVehicle(tx, actor.orgId, vehicle.id);
      await appendAudit(tx, actor, this.context.clock(), 'vehicle.sighted', { type: 'vehicle', id: vehicle.id }, { day: input.day });
      return { id: id!, vehicleId: vehicle.id, shopId: shop.id, day: input.day, odometerKm: km };
    });
  }

  /** The vehicles that requests name, read and locked for the rest of the transaction. */
  async bookOf(tx: Tx, actor: Actor, inputs: readonly VehicleInput[], at: Date, alongside: string | null = null): Promise<VehicleBook> {
    return VehicleBook.open(tx, actor, inputs, {
      platforms: this.platforms,
      key: await organisationKey(this.context, tx, actor.orgId),
      at,
      alongside,
    });
  }

  /** Finds or creates the vehicle of one request, locked for the rest of the transaction together with one that will change as well. @throws PlatformNotFound */
  async identify(tx: Tx, actor: Actor, input: VehicleInput, pointer: string, alongside: string | null = null): Promise<Identified> {
    const at = this.context.clock();
    const book = await this.bookOf(tx, actor, [input], at, alongside);
    const identified = book.identify(input, pointer);
    book.accept(identified);
    await book.store(tx, actor.orgId, at);
    return identified;
  }
}
