import { z } from 'zod';
import { Code, finite, Id, Instant, text } from './text.js';

/** Climate normals of one month at the shop. */
export const MonthNormal = z
  .strictObject({
    meanC: finite(-60, 55).describe('Mean of the daily mean temperature, °C'),
    sdC: finite(0.1, 25).describe('Standard deviation of the daily mean temperature within the month, K'),
  })
  .meta({ id: 'MonthNormal' });

const shopFields = {
  code: Code,
  name: text(120),
  elevationM: finite(-430, 5000).describe('Elevation above sea level, m'),
  timeZone: z.string().min(1).max(60).describe('IANA time zone, e.g. Europe/Madrid'),
  normals: z.array(MonthNormal).length(12).describe('Twelve months, January first'),
  currency: z.string().regex(/^[A-Z]{3}$/, 'must be an ISO 4217 code, e.g. EUR'),
  labourRate: finite(0, 1000).describe('Price of one hour of work'),
};

export const NewShop = z.strictObject(shopFields).meta({ id: 'NewShop' });
export type NewShop = z.infer<typeof NewShop>;
export const ShopPatch = z.strictObject(shopFields).partial().meta({ id: 'ShopPatch' });
export type ShopPatch = z.infer<typeof ShopPatch>;
export const Shop = z
  .strictObject({ id: Id, version: z.int(), createdAt: Instant, ...shopFields })
  .meta({ id: 'Shop', description: 'One location: where cars are seen, at what elevation and in what climate.' });
export type Shop = z.infer<typeof Shop>;
