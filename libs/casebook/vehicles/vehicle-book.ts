import { instantText, type Platform, type VehicleInput, type Warning } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import type { Actor } from '../access/actor.js';
import { newId } from '../ids.js';
import { platformsByIds, platformsWithVinPatterns, type VinPlatform } from '../platforms/platforms.queries.js';
import type { PlatformsService } from '../platforms/platforms.service.js';
import { identityHash, plainPlate } from './identity-hash.js';
import { withStanding } from './merges.queries.js';
import { VehicleMoved } from './vehicle-moved.js';
import { insertVehicles, lockNames, lockVehicles, type NamedVehicle, updateVehicles, vehiclesNamed } from './vehicles.queries.js';
import { readVin, type VinFacts, vinMatches } from './vin.js';

/** A vehicle as it is known while a transaction is written. */
export type KnownVehicle = Pick<NamedVehicle, 'id' | 'vinHash' | 'plateHash' | 'platformId' | 'modelYear' | 'createdAt' | 'mergedInto'>;

export interface Identified {
  /** As it is once the request has been taken. */
  readonly vehicle: KnownVehicle;
  readonly isNew: boolean;
  readonly platform: Platform | null;
  readonly warnings: readonly Warning[];
  readonly facts: VinFacts | null;
}

interface Named {
  readonly facts: VinFacts | null;
  /** Platforms the VIN fits, where the request names none. */
  readonly fitting: readonly string[];
  readonly vinHash: Buffer | null;
  readonly plateHash: Buffer | null;
}

/**
 * The vehicles that the requests of one transaction name, read and locked at once, and kept in step in memory while request after request is taken:
 * each finds what the ones before it left, as if they had been stored one by one. What is new is written by `store`.
 */
export class VehicleBook {
  private readonly named = new Map<VehicleInput, Named>();
  private readonly byId = new Map<string, KnownVehicle>();
  private readonly byVin = new Map<string, string>();
  /** Vehicles that carried a plate at some time, the last created last. */
  private readonly byPlate = new Map<string, string[]>();
  private readonly created = new Map<string, VinFacts | null>();
  private readonly changed = new Set<string>();

  private constructor(
    private readonly at: Date,
    private readonly platformOf: (
      named: { platformId?: string | undefined; platformCode?: string | undefined },
      pointer: string,
    ) => Platform | null,
    private readonly platforms: Map<string, Platform>,
  ) {}

  /** Reads and locks. The vehicles stay locked until the transaction ends. */
  static async open(
    tx: Tx,
    actor: Actor,
    inputs: readonly VehicleInput[],
    parts: { readonly platforms: PlatformsService; readonly key: Buffer; readonly at: Date; readonly alongside: string | null },
  ): Promise<VehicleBook> {
    const year = parts.at.getUTCFullYear() + 1;
    const platformOf = await parts.platforms.platformFinder(tx, actor, inputs);
    const read = inputs.map((input) => ({ input, facts: input.vin === undefined ? null : readVin(input.vin, year) }));
    const asksVin = ({ input, facts }: (typeof read)[number]) =>
      facts !== null && input.platformId === undefined && input.platformCode === undefined;
    const vinPlatforms = read.some(asksVin) ? await platformsWithVinPatterns(tx, actor.orgId) : [];
    const named = read.map((one): [VehicleInput, Named] => {
      const { input, facts } = one;
      const plateHash = input.plate === undefined ? null : identityHash('plate', plainPlate(input.plate), parts.key);
      const vinHash = facts ? identityHash('vin', facts.vin, parts.key) : null;
      return [input, { facts, vinHash, plateHash, fitting: asksVin(one) ? fittingOf(vinPlatforms, facts!, input.modelYear) : [] }];
    });
    const vehicles = await knownVehicles(
      tx,
      actor.orgId,
      named.map(([, one]) => one),
      parts.alongside,
    );
    const asked = new Set(named.flatMap(([, { fitting }]) => (fitting.length === 1 ? fitting : [])));
    for (const { platformId } of vehicles) if (platformId !== null) asked.add(platformId);
    const platforms = asked.size > 0 ? await platformsByIds(tx, actor.orgId, [...asked]) : [];
    const book = new VehicleBook(parts.at, platformOf, new Map(platforms.map((platform) => [platform.id, platform])));
    for (const [input, one] of named) book.named.set(input, one);
    for (const vehicle of vehicles) book.remember(vehicle);
    return book;
  }

  /**
   * The vehicle a request names, with what the request adds to it; nothing is changed yet. A car without VIN and plate gets a vehicle of its own that
   * nothing will ever join; an odd VIN is accepted with a warning.
   * @throws PlatformNotFound
   */
  identify(input: VehicleInput, pointer: string): Identified {
    const { facts, fitting, vinHash, plateHash } = this.named.get(input)!;
    const warnings: Warning[] = [];
    if (facts && input.vinChecked !== true) {
      for (const doubt of facts.doubts) warnings.push({ pointer: `${pointer}/vin`, ...doubt });
    }
    const modelYear = input.modelYear ?? facts?.modelYear ?? null;
    const named = this.platformOf(input, pointer);
    let platformId = named?.id ?? null;
    if (fitting.length === 1) platformId = fitting[0]!;
    if (fitting.length > 1) {
      warnings.push({
        pointer: `${pointer}/platformId`,
        code: 'platform-ambiguous',
        detail: `${fitting.length} platforms fit this VIN; none was chosen.`,
        remedy: 'Name the platform, or narrow the VIN patterns of the platforms.',
      });
    }
    const known = this.find(vinHash, plateHash);
    const vehicle: KnownVehicle = known
      ? {
          ...known,
          platformId: known.platformId ?? platformId,
          modelYear: known.modelYear ?? modelYear,
          plateHash: plateHash ?? known.plateHash,
        }
      : { id: newId(), vinHash, plateHash, platformId, modelYear, createdAt: instantText(this.at), mergedInto: null };
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
    return { vehicle, isNew: known === null, platform: this.platformKnown(vehicle.platformId, named), warnings, facts };
  }

  /** The request is taken: whoever comes next finds the vehicle as it is now. */
  accept({ vehicle, isNew, platform, facts }: Identified): void {
    const before = this.byId.get(vehicle.id);
    if (isNew) this.created.set(vehicle.id, facts);
    else if (
      before &&
      (before.platformId !== vehicle.platformId || before.modelYear !== vehicle.modelYear || before.plateHash !== vehicle.plateHash)
    )
      this.changed.add(vehicle.id);
    if (platform) this.platforms.set(platform.id, platform);
    this.remember(vehicle);
  }

  /** The vehicles that are stored: they may have a past. */
  storedIds(): string[] {
    return [...this.byId.keys()].filter((id) => !this.created.has(id));
  }

  /** Writes the vehicles that are new and what has become known of others since this was called last; both are with the transaction when this returns. */
  async store(tx: Tx, orgId: string, at: Date): Promise<void> {
    const rows = [...this.created].map(([id, facts]) => ({
      ...this.byId.get(id)!,
      maker: facts?.maker ?? null,
      plant: facts?.plant ?? null,
      sequenceBucket: facts?.sequenceBucket ?? null,
    }));
    const changed = [...this.changed].filter((id) => !this.created.has(id)).map((id) => this.byId.get(id)!);
    this.created.clear();
    this.changed.clear();
    await Promise.all([insertVehicles(tx, orgId, rows, at), updateVehicles(tx, orgId, changed)]);
  }

  /** The record of that name, or the one into which it was merged. */
  private find(vinHash: Buffer | null, plateHash: Buffer | null): KnownVehicle | null {
    let found = this.carrying(vinHash, plateHash);
    while (found?.mergedInto) found = this.byId.get(found.mergedInto) ?? null;
    return found;
  }

  private carrying(vinHash: Buffer | null, plateHash: Buffer | null): KnownVehicle | null {
    if (vinHash) return this.byId.get(this.byVin.get(keyOf(vinHash)) ?? '') ?? null;
    if (!plateHash) return null;
    // A plate moves between cars: the vehicle that was created last among those that carry it now.
    const carried = (this.byPlate.get(keyOf(plateHash)) ?? [])
      .map((id) => this.byId.get(id)!)
      .filter((one) => one.plateHash?.equals(plateHash));
    return carried.at(-1) ?? null;
  }

  private platformKnown(id: string | null, named: Platform | null): Platform | null {
    if (id === null) return null;
    if (named?.id === id) return named;
    const platform = this.platforms.get(id);
    if (!platform) throw new Error(`platform ${id} of a vehicle was not read`);
    return platform;
  }

  private remember(vehicle: KnownVehicle): void {
    this.byId.set(vehicle.id, vehicle);
    if (vehicle.vinHash) this.byVin.set(keyOf(vehicle.vinHash), vehicle.id);
    if (!vehicle.plateHash) return;
    const key = keyOf(vehicle.plateHash);
    const ids = this.byPlate.get(key) ?? [];
    if (ids.includes(vehicle.id)) return;
    // A vehicle that gets its plate later than another may be the older one: the order is that of creation.
    this.byPlate.set(
      key,
      [...ids, vehicle.id].sort((a, b) => byCreation(this.byId.get(a)!, this.byId.get(b)!)),
    );
  }
}

const byCreation = (a: KnownVehicle, b: KnownVehicle) => Date.parse(a.createdAt) - Date.parse(b.createdAt) || (a.id < b.id ? -1 : 1);

function fittingOf(platforms: readonly VinPlatform[], facts: VinFacts, statedYear: number | undefined): string[] {
  const year = statedYear ?? facts.modelYear;
  return platforms
    .filter(
      ({ firstYear, lastYear, vinPatterns }) =>
        (year === null || (year >= firstYear && year <= lastYear)) && vinPatterns.some((pattern) => vinMatches(facts.vin, pattern)),
    )
    .map(({ id }) => id);
}

const keyOf = (hash: Buffer): string => hash.toString('latin1');

/**
 * The vehicles that are known by these names, locked. Names that are not known are held too, and looked up once more when they are: another transaction
 * may have stored the car in between. `alongside` is a vehicle the caller will change as well: it is locked with them in the one order, so that two orders that
 * each turn out to be about the other's car cannot wait for each other.
 */
async function knownVehicles(tx: Tx, orgId: string, names: readonly Named[], alongside: string | null): Promise<NamedVehicle[]> {
  const vins = distinct(names.map(({ vinHash }) => vinHash));
  const plates = distinct(names.map(({ plateHash }) => plateHash));
  if (vins.length + plates.length === 0 && alongside === null) return [];
  let found = await vehiclesNamed(tx, orgId, vins, plates);
  const known = new Set(found.flatMap(({ vinHash, plateHash }) => [vinHash, plateHash]).flatMap((hash) => (hash ? [keyOf(hash)] : [])));
  const missing = distinct(names.map(({ vinHash, plateHash }) => vinHash ?? plateHash)).filter((hash) => !known.has(keyOf(hash)));
  if (missing.length > 0) {
    await lockNames(tx, orgId, missing);
    found = await vehiclesNamed(tx, orgId, vins, plates);
  }
  // Records into which these were merged are locked with them, in one order. Who was merged or forgotten while we waited is seen then.
  const named = found.map(({ id }) => id);
  const ids = found.some(({ mergedInto }) => mergedInto !== null) ? await withStanding(tx, orgId, named) : named;
  const vehicles = await lockVehicles(tx, orgId, alongside === null ? ids : [...ids, alongside]);
  const held = new Set(vehicles.map(({ id }) => id));
  const isWhole = ids.every((id) => held.has(id)) && vehicles.every(({ mergedInto }) => mergedInto === null || held.has(mergedInto));
  if (!isWhole) throw new VehicleMoved('a vehicle that is named');
  return vehicles;
}

function distinct(hashes: readonly (Buffer | null)[]): Buffer[] {
  return [...new Map(hashes.flatMap((hash) => (hash ? [[keyOf(hash), hash] as const] : []))).values()];
}
