import type { NewShopWeather, ShopWeather, WeatherQuestion } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import { type Actor, mayOpenShop, requirePermission } from '../access/actor.js';
import { appendAudit } from '../audit/audit.queries.js';
import type { CasebookContext } from '../context.js';
import { ShopNotFound } from './shops.errors.js';
import { findShop } from './shops.queries.js';
import { putWeather, type WeatherYear, weatherOf } from './weather.queries.js';

const DAY_MS = 86_400_000;
const MOST_DAYS = 366;

/** Daily mean temperatures as observed at a shop: where there are any, the heat clock runs on them, and on the monthly normals elsewhere. */
export class WeatherService {
  constructor(private readonly context: CasebookContext) {}

  /** Takes in days; a day that is there is replaced, null takes it out. */
  async putWeather(actor: Actor, shopId: string, input: NewShopWeather): Promise<ShopWeather> {
    requirePermission(actor, 'shops:write');
    return this.context.inTenant(actor.orgId, async (tx) => {
      const { orgId } = actor;
      const shop = mayOpenShop(actor, shopId) ? await findShop(tx, orgId, shopId, { lock: true }) : null;
      if (!shop) throw new ShopNotFound(shopId, 'id');
      const years = new Map((await weatherOf(tx, orgId, shopId)).map((one) => [one.year, one]));
      const touched = new Set<number>();
      for (const { day, meanC } of input.days) {
        const year = Number(day.slice(0, 4));
        const known = years.get(year) ?? { year, meansC: new Array<number | null>(daysOf(year)).fill(null) };
        known.meansC[placeOf(day)] = meanC;
        years.set(year, known);
        touched.add(year);
      }
      const at = this.context.clock();
      for (const year of [...touched].sort()) await putWeather(tx, orgId, shopId, years.get(year)!, at);
      await appendAudit(tx, actor, at, 'shop.weather-observed', { type: 'shop', id: shopId }, { days: input.days.length });
      const days = input.days.map(({ day }) => day).sort();
      return weatherAnswer(shopId, [...years.values()], { since: days[0] });
    });
  }

  async shopWeather(actor: Actor, shopId: string, question: WeatherQuestion): Promise<ShopWeather> {
    requirePermission(actor, 'shops:read');
    return this.context.inTenant(actor.orgId, async (tx: Tx) => {
      const shop = mayOpenShop(actor, shopId) ? await findShop(tx, actor.orgId, shopId) : null;
      if (!shop) throw new ShopNotFound(shopId, 'id');
      return weatherAnswer(shopId, await weatherOf(tx, actor.orgId, shopId), question);
    });
  }
}

const daysOf = (year: number) => (Date.UTC(year + 1, 0, 1) - Date.UTC(year, 0, 1)) / DAY_MS;
const placeOf = (day: string) => (Date.parse(day) - Date.UTC(Number(day.slice(0, 4)), 0, 1)) / DAY_MS;

function weatherAnswer(shopId: string, years: readonly WeatherYear[], { since, until }: WeatherQuestion): ShopWeather {
  const days = [...years]
    .sort((a, b) => a.year - b.year)
    .flatMap(({ year, meansC }) =>
      meansC.flatMap((meanC, i) => (meanC === null ? [] : [{ day: new Date(Date.UTC(year, 0, 1 + i)).toISOString().slice(0, 10), meanC }])),
    );
  const asked = days.filter(({ day }) => (since === undefined || day >= since) && (until === undefined || day < until));
  return {
    shopId,
    observedDays: days.length,
    firstDay: days[0]?.day ?? null,
    lastDay: days.at(-1)?.day ?? null,
    days: asked.slice(0, MOST_DAYS),
    isWhole: asked.length <= MOST_DAYS,
  };
}
