import { z } from 'zod';
import { COMPRESSOR_KINDS, LAYOUTS, REFRIGERANT_NAMES } from '#libs/vocabulary/index.js';
import { Place, PressureReference } from './evidence.js';
import { Code, finite, Id, Instant, text, whole } from './text.js';

export const Layout = z.enum(LAYOUTS).meta({
  id: 'Layout',
  description:
    'Orifice tube with accumulator; thermostatic valve with a remote receiver-drier; thermostatic valve with the receiver on the condenser.',
});
export type Layout = z.infer<typeof Layout>;
export const CompressorKind = z.enum(COMPRESSOR_KINDS).meta({ id: 'CompressorKind' });
export type CompressorKind = z.infer<typeof CompressorKind>;
export const RefrigerantName = z.enum(REFRIGERANT_NAMES).meta({ id: 'RefrigerantName' });
export type RefrigerantName = z.infer<typeof RefrigerantName>;

/** Part of the condenser face shaded by another cooler in front of it: shares of width and height. */
export const CoolerZone = z
  .strictObject({ left: finite(0, 1), right: finite(0, 1), top: finite(0, 1), bottom: finite(0, 1), name: text(60) })
  .meta({ id: 'CoolerZone' });

const platformFields = {
  code: Code,
  name: text(120),
  family: Code.describe('Platforms of one family share A/C parts; small counts borrow from the family'),
  layout: Layout,
  compressor: CompressorKind,
  refrigerant: RefrigerantName,
  chargeG: finite(100, 6000).describe('Specified charge, g'),
  reserveShare: finite(0, 0.6).describe('Share of the charge the receiver or accumulator can lose before readings move'),
  highSidePort: Place.describe('Where the high-side service port sits'),
  highSideTransducer: Place.describe('Where the vehicle high-pressure transducer sits'),
  lowSidePort: Place,
  transducerReference: PressureReference,
  dualEvaporator: z.boolean(),
  condenserPasses: whole(1, 8),
  subcoolShare: finite(0, 0.5).describe('Share of the condenser height used for subcooling'),
  coolerZones: z.array(CoolerZone).max(6),
  firstYear: whole(1980, 2060),
  lastYear: whole(1980, 2060),
  vinPatterns: z
    .array(z.string().regex(/^[A-HJ-NPR-Z0-9?]{8}$/, 'must be the first eight VIN characters, ? for any'))
    .max(40)
    .describe('Patterns over the first eight characters of the VIN'),
};

const yearsInOrder = (p: { firstYear?: number; lastYear?: number }) =>
  p.firstYear === undefined || p.lastYear === undefined || p.firstYear <= p.lastYear;
const yearsMessage = { path: ['lastYear'], message: 'must not be before firstYear' };

export const NewPlatform = z.strictObject(platformFields).refine(yearsInOrder, yearsMessage).meta({ id: 'NewPlatform' });
export type NewPlatform = z.infer<typeof NewPlatform>;
export const PlatformPatch = z.strictObject(platformFields).partial().refine(yearsInOrder, yearsMessage).meta({ id: 'PlatformPatch' });
export type PlatformPatch = z.infer<typeof PlatformPatch>;
export const Platform = z
  .strictObject({ id: Id, version: z.int(), createdAt: Instant, ...platformFields })
  .meta({ id: 'Platform', description: "A vehicle platform's air-conditioning system." });
export type Platform = z.infer<typeof Platform>;
