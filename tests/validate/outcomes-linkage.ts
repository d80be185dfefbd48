import { clocksOf, dayNumber, dayOf } from '#libs/casebook/outcomes/clocks.js';
import { episodeOutcome, type LinkedCase, type LinkedRepair } from '#libs/casebook/outcomes/linking.js';
import { COMMON_RULES } from '#libs/casebook/outcomes/outcome-rules.js';
import { RETURNED, sampleOf } from '#libs/casebook/outcomes/return-rates.js';
import { linkageWeighted, reportingDelay, returnProbability } from '#libs/outcomes/index.js';
import { seeded } from './outcomes-random.js';

export interface LinkageStudy {
  readonly truth: number;
  readonly observed: number;
  readonly corrected: number;
}

/** Four returns in ten go elsewhere, half of those are linked; watching ends evenly between 60 and 400 days. Means over the studies. */
export function linkageStudy(studies: number, episodes: number, seed: number): LinkageStudy {
  const random = seeded(seed);
  const horizon = 180;
  const rate = -Math.log(1 - 0.6) / horizon;
  const sum = { observed: 0, corrected: 0 };
  for (let s = 0; s < studies; s++) {
    const elsewhere: number[] = [];
    const spells = Array.from({ length: episodes }, () => {
      const watched = 60 + 340 * random.uniform();
      const life = random.exponential() / rate;
      const away = random.uniform() < 0.4;
      const seen = life <= watched && (!away || random.uniform() < 0.5);
      elsewhere.push(away ? 1 : 0);
      return { time: seen ? life : watched, end: seen ? 1 : 0 };
    });
    const got = linkageWeighted(spells, elsewhere, 0.5, 1, horizon);
    sum.observed += got.observed / studies;
    sum.corrected += got.corrected / studies;
  }
  return { truth: 0.6, observed: sum.observed, corrected: sum.corrected };
}

export interface PresenceStudy {
  readonly at: readonly number[];
  readonly truth: readonly number[];
  /** As the product follows vehicles, and as if every return counted however long its vehicle had not been seen. */
  readonly byRule: readonly number[];
  readonly anyReturn: readonly number[];
}

/**
 * Vehicles that leave the region, seen now and then for other work: repairs over four years, 35 % of them back within a year at a constant hazard where the vehicle is
 * still there, 0.6 other visits and `leaving` departures a year.
 */
export function presenceStudy(repairs: number, leaving: number, seed: number): PresenceStudy {
  const random = seeded(seed);
  const year = 365;
  const hazard = -Math.log(1 - 0.35) / year;
  const now = new Date('2026-12-01T12:00:00Z');
  const today = dayNumber('2026-12-01');
  const spansBy = (presenceDays: number) => (car: ReturnType<typeof drawn>) => {
    const { made, visit, later, sightings } = car;
    const rules = { version: 1, own: { ...COMMON_RULES, presenceDays }, leadsTo: new Map(), causedBy: new Map() };
    const { end, endedOn } = episodeOutcome(made, visit, later, [made], sightings, rules);
    const place = { shopId: 's', homeShopId: 's', vehicleId: null, linkedBy: 'vin', distanceKm: null };
    return { started: dayNumber(made.day), ended: dayNumber(endedOn), end, ...place };
  };
  const drawn = () => {
    const start = today - Math.floor(4 * year * random.uniform());
    const visitOn = (number: number, provedFaults: LinkedCase['provedFaults']): LinkedCase => ({
      caseId: `${number}`,
      shopId: 's',
      day: dayOf(number),
      openedAt: number,
      complaint: 'cools-poorly',
      provedFaults,
      repairedFaults: [],
      odometerKm: null,
    });
    const made: LinkedRepair = {
      repairId: 'r',
      caseId: `${start}`,
      shopId: 's',
      fault: 'undercharge',
      action: 'top-up',
      intent: 'temporary',
      day: dayOf(start),
    };
    const gone = Math.min(today, start + random.exponential() / (leaving / year || Number.MIN_VALUE));
    const back = start + Math.max(1, Math.ceil(random.exponential() / hazard));
    const sightings = [];
    for (let day = start; ; ) {
      day += Math.ceil((random.exponential() * year) / 0.6);
      if (day > gone) break;
      sightings.push({ day: dayOf(day), odometerKm: null });
    }
    return { made, visit: visitOn(start, []), later: back <= gone ? [visitOn(back, ['undercharge'])] : [], sightings };
  };
  const cars = Array.from({ length: repairs }, drawn);
  const at = [year / 2, year, 1.5 * year, 2 * year];
  const clocks = clocksOf([], now, COMMON_RULES);
  const curve = (presenceDays: number) => {
    const sample = sampleOf(cars.map(spansBy(presenceDays)), { clock: 'calendar-days', horizons: at, clocks, asOf: now });
    return at.map((horizon) => returnProbability(sample, RETURNED, horizon).probability);
  };
  return {
    at,
    truth: at.map((days) => 1 - Math.exp(-hazard * days)),
    byRule: curve(COMMON_RULES.presenceDays),
    anyReturn: curve(100 * year),
  };
}

export interface DelayStudy {
  /** Share recorded within 0, 1, .. weeks: true, estimated, and the plain share among the records. */
  readonly truth: readonly number[];
  readonly estimated: readonly number[];
  readonly plain: readonly number[];
}

/** Delays of 0 to 8 weeks, geometric; events evenly over the last 20 weeks, seen when recorded by now. */
export function delayStudy(events: number, seed: number): DelayStudy {
  const random = seeded(seed);
  const last = 8;
  const weights = Array.from({ length: last + 1 }, (_, x) => 0.7 ** x);
  const total = weights.reduce((a, b) => a + b, 0);
  let running = 0;
  const truth = weights.map((w) => {
    running += w / total;
    return running;
  });
  const records = Array.from({ length: events }, () => {
    const u = random.uniform();
    return { delay: truth.findIndex((g) => u <= g), longest: Math.floor(random.uniform() * 20) };
  }).filter((r) => r.delay >= 0 && r.delay <= r.longest);
  const plain = truth.map((_, x) => records.filter((r) => r.delay <= x).length / records.length);
  const estimated = [...reportingDelay(records.map((r) => ({ delay: r.delay, longest: Math.min(r.longest, last) })))];
  return { truth, estimated, plain };
}
