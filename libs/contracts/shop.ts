import { z } from 'zod';
import { Code, Day, finite, Id, Instant, text } from './text.js';

/** Climate normals of one month at the shop. */
export const MonthNormal = z
  .strictObject({
    meanC: finite(-60, 55).describe('Mean of the daily mean temperature, °C'),
    sdC: finite(0.1, 25).describe('Standard deviation of the daily mean temperature within the month, K'),
  })
  .meta({ id: 'MonthNormal' });

/** Daily mean temperature as it was observed. */
export const DayMean = z.strictObject({ day: Day, meanC: finite(-70, 60).describe('Mean of the day, °C') }).meta({ id: 'DayMean' });
export const NewShopWeather = z
  .strictObject({
    days: z
      .array(
        z.strictObject({ day: Day, meanC: DayMean.shape.meanC.nullable().describe('null takes the day out') }).meta({ id: 'NewDayMean' }),
      )
      .min(1)
      .max(2000),
  })
  .meta({ id: 'NewShopWeather' });
export type NewShopWeather = z.infer<typeof NewShopWeather>;
export const WeatherQuestion = z.strictObject({ since: Day.optional(), until: Day.optional() }).meta({ id: 'WeatherQuestion' });
export type WeatherQuestion = z.infer<typeof WeatherQuestion>;
export const ShopWeather = z
  .strictObject({
    shopId: Id,
    observedDays: z.int().describe('Days with an observation; the heat clock runs on the monthly normals on all others'),
    firstDay: Day.nullable(),
    lastDay: Day.nullable(),
    days: z.array(DayMean).describe('Those asked for, at most 366'),
    isWhole: z.boolean().describe('Whether these are all that were asked for'),
  })
  .meta({ id: 'ShopWeather' });
export type ShopWeather = z.infer<typeof ShopWeather>;

const shopFields = {
  code: Code,
  name: text(120),
  elevationM: finite(-430, 5000).describe('Elevation above sea level, m'),
  timeZone: z.string().min(1).max(60).describe('IANA time zone, e.g. Europe/Madrid'),
  normals: z.array(MonthNormal).length(12).describe('Twelve months, January first'),
  currency: z.string().regex(/^[A-Z]{3}$/, 'must be an ISO 4217 code, e.g. EUR'),
  labourRate: finite(0, 1000).describe('Price of one hour of work'),
};

/** Days and dates of a shop are read in its zone: one that does not exist would only be noticed when the first file comes in. */
const typed = {
  ...shopFields,
  timeZone: shopFields.timeZone.refine(isTimeZone, 'must be an IANA time zone, e.g. Europe/Madrid'),
};

function isTimeZone(name: string): boolean {
  try {
    return new Intl.DateTimeFormat('en', { timeZone: name }).resolvedOptions().timeZone !== '';
  } catch {
    return false;
  }
}

export const NewShop = z.strictObject(typed).meta({ id: 'NewShop' });
export type NewShop = z.infer<typeof NewShop>;
export const ShopPatch = z.strictObject(typed).partial().meta({ id: 'ShopPatch' });
export type ShopPatch = z.infer<typeof ShopPatch>;
export const Shop = z
  .strictObject({ id: Id, version: z.int(), createdAt: Instant, ...shopFields })
  .meta({ id: 'Shop', description: 'One location: where cars are seen, at what elevation and in what climate.' });
export type Shop = z.infer<typeof Shop>;
