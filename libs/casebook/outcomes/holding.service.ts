import { type HoldingAnswer, type HoldingQuestion, instantText, type Platform } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import { type Actor, mayOpenShop, requirePermission } from '../access/actor.js';
import { dayInZone } from '../cases/day-in-zone.js';
import type { CasebookContext } from '../context.js';
import { PlatformNotFound } from '../platforms/platforms.errors.js';
import { findPlatform } from '../platforms/platforms.queries.js';
import { ShopNotFound } from '../shops/shops.errors.js';
import { findShop } from '../shops/shops.queries.js';
import { VehicleNotFound } from '../vehicles/vehicles.errors.js';
import { findVehicle } from '../vehicles/vehicles.queries.js';
import { clocksOf, dayNumber, dayOf } from './clocks.js';
import { fittedClock } from './heat-clock.js';
import { holdingAnswer } from './holding.js';
import { repairPrices, repairSpans, returnPrices } from './holding.queries.js';
import { standingRules } from './outcome-rules.queries.js';
import { DayOutOfReach } from './outcomes.errors.js';
import { shopClimates } from './outcomes.queries.js';

const YEAR_DAYS = 366;

/** How long each way to repair a fault would hold here, and what it would have cost. */
export class HoldingService {
  constructor(private readonly context: CasebookContext) {}

  async holdingOdds(actor: Actor, question: HoldingQuestion): Promise<HoldingAnswer> {
    requirePermission(actor, 'outcomes:read');
    return this.context.inTenant(actor.orgId, async (tx) => {
      const { orgId } = actor;
      const { fault, shopId } = question;
      const shop = mayOpenShop(actor, shopId) ? await findShop(tx, orgId, shopId) : null;
      if (!shop) throw new ShopNotFound(shopId);
      const platform = await this.platformOf(tx, orgId, question);
      const now = this.context.clock();
      const today = dayNumber(dayInZone(instantText(now), shop.timeZone));
      const from = question.day === undefined ? today : dayNumber(question.day);
      if (Math.abs(from - today) > YEAR_DAYS) {
        throw new DayOutOfReach(dayOf(from), dayOf(today - YEAR_DAYS), dayOf(today + YEAR_DAYS));
      }
      const spans = await repairSpans(tx, orgId, fault);
      return holdingAnswer({
        shop,
        platform,
        fault,
        from,
        now,
        ...fittedClock(spans, clocksOf(await shopClimates(tx, orgId), now, await standingRules(tx, orgId)), now),
        spans,
        prices: await repairPrices(tx, orgId, fault, shopId, shop.currency),
        returnPrices: await returnPrices(tx, orgId, fault, shopId, shop.currency),
      });
    });
  }

  private async platformOf(tx: Tx, orgId: string, { platformId, vehicleId }: HoldingQuestion): Promise<Platform | null> {
    if (platformId !== undefined) {
      const platform = await findPlatform(tx, orgId, platformId);
      if (!platform) throw new PlatformNotFound(platformId);
      return platform;
    }
    if (vehicleId === undefined) return null;
    const vehicle = await findVehicle(tx, orgId, vehicleId);
    if (!vehicle) throw new VehicleNotFound();
    return vehicle.platformId === null ? null : findPlatform(tx, orgId, vehicle.platformId);
  }
}
