import type { Complaint, FaultCode, RepairAction, RepairIntent } from '#libs/contracts/index.js';
import { type Draw, drawsOf } from './draws.js';
import { DEBRIS_PLATFORMS, DEMO_PLATFORMS, DEMO_SHOPS, EMERGING, WEAK_SHOP } from './region.js';

/** One planned visit. Days count from the first day of the region. */
export interface PlannedVisit {
  readonly day: number;
  readonly shop: number;
  readonly odometerKm: number;
  readonly complaint: Complaint;
  /** What is really wrong; null for a visit that proves nothing. */
  readonly fault: FaultCode | null;
  readonly severity: number;
  readonly proof: 'opened-part' | 'laboratory' | 'verified-after-readings' | 'judgement' | null;
  readonly repairs: readonly { readonly fault: FaultCode; readonly action: RepairAction; readonly intent: RepairIntent }[];
}

export interface PlannedVehicle {
  readonly index: number;
  readonly platform: number;
  readonly modelYear: number;
  readonly vin: string | null;
  readonly visits: readonly PlannedVisit[];
  /** Days on which the car was seen for something else. */
  readonly sightings: readonly { readonly day: number; readonly shop: number; readonly odometerKm: number }[];
}

export const REGION_DAYS = 3 * 365;
export const DEMO_SEED = 20_260_101;
/** Vehicles are added until this many cases are planned. */
export const PLANNED_CASES = 24_000;

interface FaultKind {
  readonly fault: FaultCode;
  readonly weight: number;
  readonly layouts?: readonly string[];
  readonly compressors?: readonly string[];
  readonly permanent: RepairAction;
  readonly temporary?: RepairAction;
  /** Chance that the stop-gap is taken where there is one. */
  readonly stopGap?: number;
  /** Return hazard a degree-day after the stop-gap, and after the full repair. */
  readonly afterStopGap?: number;
  readonly afterRepair: number;
}

/** How often each fault comes, what is done, and how it holds. Invented; the shares are of the order service records of the trade show. */
const KINDS: readonly FaultKind[] = [
  {
    fault: 'undercharge',
    weight: 30,
    permanent: 'replace-seals',
    temporary: 'top-up',
    stopGap: 0.45,
    afterStopGap: 1 / 1_500,
    afterRepair: 1 / 14_000,
  },
  { fault: 'condenser-dirt', weight: 8, permanent: 'clean-condenser', afterRepair: 1 / 9_000 },
  {
    fault: 'condenser-fan',
    weight: 6,
    permanent: 'replace-fan',
    temporary: 'repair-wiring',
    stopGap: 0.2,
    afterStopGap: 1 / 1_500,
    afterRepair: 1 / 16_000,
  },
  {
    fault: 'condenser-passages',
    weight: 3,
    permanent: 'replace-condenser',
    temporary: 'flush-lines',
    stopGap: 0.2,
    afterStopGap: 1 / 420,
    afterRepair: 1 / 12_000,
  },
  {
    fault: 'filter-cartridge',
    weight: 5,
    layouts: ['valve-integral-receiver'],
    permanent: 'replace-compressor-and-condenser',
    temporary: 'replace-filter-cartridge',
    stopGap: 0.7,
    afterStopGap: 1 / 1_900,
    afterRepair: 1 / 13_000,
  },
  {
    fault: 'valve-restricted',
    weight: 5,
    layouts: ['valve-receiver', 'valve-integral-receiver'],
    permanent: 'replace-thermostatic-valve',
    afterRepair: 1 / 10_000,
  },
  {
    fault: 'orifice-clogged',
    weight: 7,
    layouts: ['orifice-accumulator'],
    permanent: 'replace-accumulator',
    temporary: 'replace-orifice-tube',
    stopGap: 0.5,
    afterStopGap: 1 / 800,
    afterRepair: 1 / 11_000,
  },
  { fault: 'compressor-wear', weight: 6, permanent: 'replace-compressor', afterRepair: 1 / 9_000 },
  { fault: 'compressor-leakage', weight: 5, permanent: 'replace-compressor', afterRepair: 1 / 12_000 },
  { fault: 'clutch-slip', weight: 5, compressors: ['fixed-clutch'], permanent: 'replace-clutch', afterRepair: 1 / 11_000 },
  {
    fault: 'displacement-stuck-low',
    weight: 4,
    compressors: ['variable', 'variable-commanded'],
    permanent: 'replace-control-valve',
    afterRepair: 1 / 8_000,
  },
  { fault: 'electric-compressor-limited', weight: 4, compressors: ['electric'], permanent: 'replace-compressor', afterRepair: 1 / 12_000 },
  { fault: 'evaporator-airflow', weight: 7, permanent: 'replace-cabin-filter', afterRepair: 1 / 7_000 },
  { fault: 'air-door', weight: 5, permanent: 'replace-door-actuator', afterRepair: 1 / 12_000 },
  { fault: 'air-in-system', weight: 3, permanent: 'recover-evacuate-charge', afterRepair: 1 / 12_000 },
  { fault: 'overcharge', weight: 3, permanent: 'recover-evacuate-charge', afterRepair: 1 / 14_000 },
  { fault: 'pressure-sensor-bias', weight: 2, permanent: 'replace-transducer', afterRepair: 1 / 15_000 },
];

/** Hazard of a clogged condenser a degree-day after compressor wear was answered with a compressor alone, on platforms that shed debris. */
const DEBRIS_HAZARD = 1 / 650;
/** A stop-gap cartridge on those platforms rarely outlasts one hot season. */
const DEBRIS_CARTRIDGE_HAZARD = 1 / 340;
/** Work of the weak shop comes back this much more often. */
const WEAK_FACTOR = 2.6;
const FIRST_FAULT_HAZARD = 1 / 2_100;

const DAY_MS = 86_400_000;
/** The first of a January, for plans that are laid on no calendar. */
const SOME_JANUARY = new Date('2024-01-01T00:00:00Z');

/** The first day of a region that is loaded from this moment on: it ends with the month before. */
export function firstDayOf(began: Date): Date {
  return new Date(Date.UTC(began.getUTCFullYear(), began.getUTCMonth(), 1) - REGION_DAYS * DAY_MS);
}

/**
 * The whole region, vehicle by vehicle: the same for the same seed and first day. Summers are those of the calendar from that day on. `plain` leaves out
 * whatever docs/demo.md says was planted on single platforms, shops and model years.
 */
export function planRegion(
  seed: number = DEMO_SEED,
  cases: number = PLANNED_CASES,
  firstDay: Date = SOME_JANUARY,
  options: { readonly plain?: boolean } = {},
): readonly PlannedVehicle[] {
  const vehicles: PlannedVehicle[] = [];
  const heat = DEMO_SHOPS.map((shop) => heatTable(shop.normals, firstDay));
  let planned = 0;
  for (let index = 0; planned < cases; index++) {
    const vehicle = planVehicle(index, drawsOf(seed, index), heat, options.plain === true);
    planned += vehicle.visits.length;
    vehicles.push(vehicle);
  }
  return vehicles;
}

/** Cumulative degree-days above 18 °C by day of the region, from the monthly means, with a little every day. */
function heatTable(normals: readonly { readonly meanC: number; readonly sdC: number }[], firstDay: Date): Float64Array {
  const table = new Float64Array(REGION_DAYS + 2);
  for (let day = 0; day <= REGION_DAYS; day++) {
    const { meanC, sdC } = normals[new Date(firstDay.getTime() + day * DAY_MS).getUTCMonth()]!;
    const above = meanC - 18;
    // A smooth hinge: what a month with this mean and spread gives on its warmer days.
    const degreeDays = above > 2 * sdC ? above : (sdC / 1.7) * Math.log1p(Math.exp((1.7 * above) / sdC));
    table[day + 1] = table[day]! + degreeDays + 0.1;
  }
  return table;
}

function planVehicle(index: number, draw: Draw, heat: readonly Float64Array[], plain: boolean): PlannedVehicle {
  const platform = draw.weighted(DEMO_PLATFORMS.map((_, i) => (i % 3 === 0 ? 1.3 : 1)));
  const { layout, compressor, code, firstYear, lastYear } = DEMO_PLATFORMS[platform]!;
  const isEmerging = !plain && code === EMERGING.platform;
  const debris = !plain && DEBRIS_PLATFORMS.has(code);
  const home = draw.below(DEMO_SHOPS.length);
  const modelYear = firstYear + draw.below(lastYear - firstYear + 1);
  const kilometresADay = 20 + 40 * draw.unit();
  const startKm = (2027 - modelYear) * 11_000 * (0.6 + 0.8 * draw.unit());
  const odometer = (day: number) => Math.round(startKm + kilometresADay * day);
  const kinds = KINDS.filter((kind) => (kind.layouts?.includes(layout) ?? true) && (kind.compressors?.includes(compressor) ?? true));
  const visits: PlannedVisit[] = [];
  const shopOf = () => (draw.unit() < 0.72 ? home : draw.below(DEMO_SHOPS.length));

  let day = nextFault(0, draw.exponential() / FIRST_FAULT_HAZARD, heat[home]!);
  if (isEmerging && modelYear >= EMERGING.firstYear && draw.unit() < 0.35)
    day = Math.min(day, REGION_DAYS - EMERGING.monthsBeforeEnd * 30 + draw.below(EMERGING.monthsBeforeEnd * 30));
  const isBatch = isEmerging && modelYear >= EMERGING.firstYear && day >= REGION_DAYS - EMERGING.monthsBeforeEnd * 30;
  let kind = isBatch ? KINDS[0]! : kinds[draw.weighted(kinds.map((one) => one.weight))]!;
  while (day < REGION_DAYS && visits.length < 12) {
    const arrival = day + draw.below(9);
    if (arrival >= REGION_DAYS) break;
    const shop = shopOf();
    const stopGap = kind.temporary !== undefined && draw.unit() < (kind.stopGap ?? 0);
    const action = stopGap ? kind.temporary! : kind.permanent;
    const proved = draw.unit();
    visits.push({
      day: arrival,
      shop,
      odometerKm: odometer(arrival),
      complaint: complaintOf(kind.fault, draw),
      fault: kind.fault,
      severity: 0.35 + 0.6 * draw.unit(),
      proof:
        proved < 0.5
          ? 'opened-part'
          : proved < 0.72
            ? 'verified-after-readings'
            : proved < 0.76
              ? 'laboratory'
              : proved < 0.92
                ? 'judgement'
                : null,
      repairs: [{ fault: kind.fault, action, intent: draw.unit() < 0.04 ? 'unknown' : stopGap ? 'temporary' : 'permanent' }],
    });
    const weak = !plain && DEMO_SHOPS[shop]!.code === WEAK_SHOP ? WEAK_FACTOR : 1;
    const clock = heat[home]!;
    const same = hazardAfter(kind, stopGap, debris) * weak;
    const candidates: { day: number; kind: FaultKind }[] = [{ day: nextFault(arrival + 1, draw.exponential() / same, clock), kind }];
    if (debris && kind.fault === 'compressor-wear') {
      const clogged = kinds.find((one) => one.fault === 'condenser-passages');
      if (clogged) candidates.push({ day: nextFault(arrival + 7, draw.exponential() / DEBRIS_HAZARD, clock), kind: clogged });
    }
    const fresh = kinds[draw.weighted(kinds.map((one) => one.weight))]!;
    candidates.push({ day: nextFault(arrival + 20, draw.exponential() / FIRST_FAULT_HAZARD, clock), kind: fresh });
    if (stopGap && draw.unit() < 0.22) {
      const later = arrival + 20 + draw.below(120);
      if (later < REGION_DAYS && later < candidates[0]!.day) {
        visits.push({
          day: later,
          shop: shopOf(),
          odometerKm: odometer(later),
          complaint: 'service',
          fault: kind.fault,
          severity: 0.1,
          proof: null,
          repairs: [{ fault: kind.fault, action: kind.permanent, intent: 'permanent' }],
        });
        candidates[0] = { day: nextFault(later + 1, draw.exponential() / (kind.afterRepair * weak), clock), kind };
      }
    }
    const next = candidates.sort((a, b) => a.day - b.day)[0]!;
    day = Math.max(next.day, visits.at(-1)!.day + 1);
    kind = next.kind;
  }
  return {
    index,
    platform,
    modelYear,
    vin: draw.unit() < 0.95 ? vinOf(DEMO_PLATFORMS[platform]!.vinPatterns[0]!, modelYear, index) : null,
    visits,
    sightings: Array.from({ length: 1 + draw.below(5) }, () => draw.below(REGION_DAYS))
      .sort((a, b) => a - b)
      .map((seen) => ({ day: seen, shop: home, odometerKm: odometer(seen) })),
  };
}

function hazardAfter(kind: FaultKind, stopGap: boolean, debris: boolean): number {
  if (!stopGap) return kind.afterRepair;
  if (debris && kind.fault === 'filter-cartridge') return DEBRIS_CARTRIDGE_HAZARD;
  return kind.afterStopGap ?? kind.afterRepair;
}

/** The day on which so many more degree-days have passed. */
function nextFault(from: number, degreeDays: number, clock: Float64Array): number {
  if (from >= REGION_DAYS) return REGION_DAYS;
  const target = clock[from]! + degreeDays;
  let low = from;
  let high = clock.length - 1;
  if (clock[high]! < target) return REGION_DAYS;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (clock[middle]! < target) low = middle + 1;
    else high = middle;
  }
  return low;
}

function complaintOf(fault: FaultCode, draw: Draw): Complaint {
  if (fault === 'compressor-wear') return draw.unit() < 0.6 ? 'noise' : 'cools-poorly';
  if (fault === 'undercharge') return draw.unit() < 0.3 ? 'cools-not' : 'cools-poorly';
  return draw.unit() < 0.15 ? 'cools-at-times' : 'cools-poorly';
}

const YEAR_LETTERS = 'ABCDEFGHJKLMNPRSTVWXY';
const CHECKED_WEIGHTS = [8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2];
const LETTER_VALUES: Readonly<Record<string, number>> = { A: 1, B: 2, C: 3, D: 4, E: 5, H: 8, M: 4, P: 7, S: 2, T: 3, V: 5, X: 7 };

/** An invented VIN with a right check digit. No maker carries these first characters. */
function vinOf(pattern: string, modelYear: number, index: number): string {
  const start = pattern.slice(0, 3);
  const body = `${start}${String(index % 1000).padStart(3, '0')}A1`;
  const year = YEAR_LETTERS[(modelYear - 2010) % YEAR_LETTERS.length]!;
  const rest = `${year}A${String(index).padStart(6, '0')}`;
  const whole = `${body}0${rest}`;
  let sum = 0;
  for (let i = 0; i < 17; i++) {
    const character = whole[i]!;
    const value = /\d/.test(character) ? Number(character) : (LETTER_VALUES[character] ?? YEAR_VALUES[character] ?? 0);
    sum += value * CHECKED_WEIGHTS[i]!;
  }
  const rest11 = sum % 11;
  return `${body}${rest11 === 10 ? 'X' : rest11}${rest}`;
}
const YEAR_VALUES: Readonly<Record<string, number>> = { C: 3, D: 4, E: 5, F: 6, G: 7, H: 8, J: 1, K: 2, L: 3, M: 4, N: 5, P: 7, R: 9 };
