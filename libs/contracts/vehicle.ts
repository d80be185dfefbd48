import { z } from 'zod';
import { Quantity } from './quantity.js';
import { Day, Id, Instant, text, whole } from './text.js';

/** The VIN as on the plate of the car; hashed with the organisation's key on arrival and never stored or logged. */
export const Vin = z.string().min(5).max(20).describe('Vehicle identification number; hashed on arrival, never stored');

/** How a car is named by a caller. All parts are optional: a car without VIN or plate is still a case. */
export const VehicleInput = z
  .strictObject({
    vin: Vin.optional(),
    plate: text(16).optional().describe('Registration plate; hashed on arrival, links with lower certainty'),
    platformId: Id.optional(),
    platformCode: text(60).optional(),
    modelYear: whole(1980, 2060).optional(),
    vinChecked: z.boolean().optional().describe('The caller looked again and stands by a VIN whose check digit does not fit'),
  })
  .meta({ id: 'VehicleInput' });
export type VehicleInput = z.infer<typeof VehicleInput>;

export const Vehicle = z
  .strictObject({
    id: Id,
    platformId: Id.nullable(),
    modelYear: z.int().nullable(),
    maker: z.string().nullable().describe('World manufacturer identifier, the first three VIN characters'),
    plant: z.string().nullable(),
    sequenceBucket: z.int().nullable().describe('Build sequence in thousands; the rest of the number is not kept'),
    linkedBy: z.enum(['vin', 'plate', 'none']).meta({ id: 'LinkedBy' }),
    mergedInto: Id.nullable().describe('The record that was found to be of the same car and has taken over its visits'),
    createdAt: Instant,
  })
  .meta({ id: 'Vehicle', description: 'A vehicle, known by a keyed hash; the VIN itself is not kept.' });
export type Vehicle = z.infer<typeof Vehicle>;

export const NewVehicleMerge = z
  .strictObject({
    mergedId: Id.describe('The other record: its visits move here'),
    reason: text(500).describe('How it was seen that they are one car'),
  })
  .meta({ id: 'NewVehicleMerge' });
export type NewVehicleMerge = z.infer<typeof NewVehicleMerge>;
export const VehicleMerge = z
  .strictObject({
    id: Id,
    vehicleId: Id.describe('The record that was kept'),
    mergedId: Id.describe('The record that was emptied; its VIN or plate leads to the other'),
    reason: z.string(),
    cases: z.int().describe('Cases that were moved'),
    sightings: z.int(),
    mergedAt: Instant,
    undoneAt: Instant.nullable(),
  })
  .meta({ id: 'VehicleMerge' });
export type VehicleMerge = z.infer<typeof VehicleMerge>;
export const VehicleMergeList = z.strictObject({ data: z.array(VehicleMerge) }).meta({ id: 'VehicleMergeList' });

export const VehicleLookup = z.strictObject({ vin: Vin.optional(), plate: text(16).optional() }).meta({ id: 'VehicleLookup' });
export type VehicleLookup = z.infer<typeof VehicleLookup>;

/** Any visit for any job: it tells that the car was still around, and how far it had run. */
export const NewSighting = z
  .strictObject({ shopId: Id, vehicle: VehicleInput, day: Day, odometer: Quantity.optional() })
  .meta({ id: 'NewSighting' });
export type NewSighting = z.infer<typeof NewSighting>;
export const Sighting = z
  .strictObject({
    id: Id,
    vehicleId: Id,
    shopId: Id.nullable().describe('null outside your shops'),
    day: Day,
    odometerKm: z.number().nullable(),
  })
  .meta({ id: 'Sighting' });
export type Sighting = z.infer<typeof Sighting>;
