import { clocksOf, dayNumber, dayOf } from '#libs/casebook/outcomes/clocks.js';
import { derivedEpisodes } from '#libs/casebook/outcomes/linking.service.js';
import { COMMON_RULES } from '#libs/casebook/outcomes/outcome-rules.js';
import { RETURNED, readable, sampleOf } from '#libs/casebook/outcomes/return-rates.js';
import { returnProbability } from '#libs/outcomes/index.js';
import { seeded } from './outcomes-random.js';

export interface DistanceStudy {
  readonly at: readonly number[];
  readonly truth: readonly number[];
  /** As the product reads the distance clock, and as if what still runs were followed to its last reading alone. */
  readonly carriedOn: readonly number[];
  readonly toLastReading: readonly number[];
  /** Repairs that the clock could not be read for. */
  readonly unread: number;
}

const YEAR = 365;
const HALF_LIFE_KM = 30_000;

/**
 * Repairs over four years that wear by kilometres alone, half of them back within 30,000. Vehicles run 10 to 70 km a day, as ever, are seen 0.6 times a year for other work, and
 * their odometer is read at `read` of the visits; of half the model year is known. Nobody leaves.
 */
export function distanceStudy(repairs: number, read: number, seed: number): DistanceStudy {
  const random = seeded(seed);
  const now = new Date('2026-12-01T12:00:00Z');
  const today = dayNumber('2026-12-01');
  const cars = Array.from({ length: repairs }, (_, i) => {
    const kmADay = 10 + 60 * random.uniform();
    const start = today - 1 - Math.floor(4 * YEAR * random.uniform());
    const modelYear = 2010 + Math.floor(12 * random.uniform());
    const km = (day: number) => kmADay * (day - dayNumber(`${modelYear}-07-01`));
    const odometer = (day: number) => (random.uniform() < read ? Math.round(km(day)) : null);
    const back = start + Math.max(1, Math.ceil((random.exponential() * HALF_LIFE_KM) / Math.LN2 / kmADay));
    const visit = (day: number) => ({
      caseId: `${i} ${day}`,
      shopId: 's',
      platformId: 'p',
      day: dayOf(day),
      openedAt: day,
      complaint: 'cools-poorly',
      provedFaults: ['undercharge' as const],
      odometerKm: odometer(day),
    });
    const sightings = [];
    for (let day = start; ; ) {
      day += Math.ceil((random.exponential() * YEAR) / 0.6);
      if (day > today) break;
      sightings.push({ day: dayOf(day), shopId: 's', odometerKm: odometer(day) });
    }
    const cases = back <= today ? [visit(start), visit(back)] : [visit(start)];
    const made = { fault: 'undercharge', action: 'replace-seals', intent: 'permanent' } as const;
    const { endedOn, endKind, distanceKm } = derivedEpisodes({
      vehicleId: `${i}`,
      platformId: 'p',
      modelYear: random.uniform() < 0.5 ? modelYear : null,
      linkedBy: 'vin',
      cases,
      repairs: [{ ...made, repairId: `${i}`, caseId: cases[0]!.caseId, shopId: 's', day: dayOf(start) }],
      sightings,
      rules: COMMON_RULES,
    })[0]!;
    const readings = [...cases, ...sightings].filter(({ odometerKm }) => odometerKm !== null).map(({ day }) => dayNumber(day));
    const last = Math.max(start, ...readings.filter((day) => day <= dayNumber(endedOn)));
    const place = { shopId: 's', homeShopId: 's', vehicleId: null, linkedBy: 'vin' };
    const span = { started: start, ended: dayNumber(endedOn), end: endKind, distanceKm, ...place };
    return {
      span,
      toLast: endKind === 'running' ? { time: km(last) - km(start), end: 0 } : { time: km(span.ended) - km(start), end: RETURNED },
    };
  });
  const at = [5_000, 10_000, 20_000, 30_000];
  const clocks = clocksOf([], now, COMMON_RULES);
  const spans = readable(
    cars.map(({ span }) => span),
    'distance',
  );
  const carried = sampleOf(spans, { clock: 'distance', horizons: at, clocks, asOf: now });
  const toLast = cars.map((car) => car.toLast);
  return {
    at,
    truth: at.map((km) => 1 - 2 ** (-km / HALF_LIFE_KM)),
    carriedOn: at.map((horizon) => returnProbability(carried, RETURNED, horizon).probability),
    toLastReading: at.map((horizon) => returnProbability(toLast, RETURNED, horizon).probability),
    unread: repairs - spans.length,
  };
}
