import { groupBy } from '../grouping.js';
import { type SplitRule, splitAtEvent, type TimePart } from '../rates/person-time.js';
import type { RateStratum } from '../rates/rate-ratio.js';
import { type Segment, type StratumRule, segmentsOf, type VehicleHistory } from './history.js';

/**
 * Exposed and reference time and first B events of every ordered pair (A, B), by stratum.
 *
 * exposed: within `window` days after any A, from `blanking` days after it; reference: all other watched time of all vehicles, those that
 * never had A included. A vehicle leaves at its first B after `from`; one that had B within `lookBack` days before is watched for B only after that.
 * B within the blanking of an A (the same visit, day 0) is neither: it goes to `together`.
 * All vehicles' time counts without a walk over pairs: time until the first B by stratum once for each B, then only vehicles with A are split.
 * Source: person-time split at the exposure, Suissa (2008); first-event analysis.
 */
export interface PairRule extends SplitRule {
  readonly lookBack: number;
}

export interface PairTable {
  readonly a: string;
  readonly b: string;
  readonly strata: ReadonlyMap<string, RateStratum>;
  readonly exposedEvents: number;
  /** Shops that saw the exposed events. */
  readonly shops: readonly string[];
  readonly together: number;
  /** Days from A to B of the exposed events, ascending. */
  readonly lags: readonly number[];
}

interface Prepared {
  readonly vehicle: VehicleHistory;
  readonly segments: readonly Segment[];
  readonly days: ReadonlyMap<string, readonly number[]>;
}

interface Watch {
  readonly from: number;
  readonly until: number;
  /** Day of the event that ended it, if one did. */
  readonly event: number | null;
}

export function pairTables(vehicles: readonly VehicleHistory[], rule: PairRule, strata: StratumRule): readonly PairTable[] {
  const prepared = vehicles.map(
    (vehicle): Prepared => ({
      vehicle,
      segments: segmentsOf(vehicle, strata),
      days: new Map(
        [...groupBy(vehicle.faults, (f) => f.fault)].map(([fault, found]) => [fault, found.map((f) => f.day).sort((x, y) => x - y)]),
      ),
    }),
  );
  const faults = [...new Set(vehicles.flatMap((v) => v.faults.map((f) => f.fault)))].sort();
  const everyone = timeBy(prepared.flatMap((p) => p.segments));
  const tables: PairTable[] = [];
  for (const b of faults) {
    const all = untilFirst(prepared, b, rule, everyone);
    for (const a of faults) if (a !== b) tables.push(pairTable(prepared, a, b, rule, all));
  }
  return Object.freeze(tables);
}

interface Totals {
  readonly time: ReadonlyMap<string, number>;
  readonly events: ReadonlyMap<string, number>;
}

function timeBy(segments: readonly Segment[]): Map<string, number> {
  const time = new Map<string, number>();
  for (const s of segments) time.set(s.stratum, (time.get(s.stratum) ?? 0) + s.until - s.from);
  return time;
}

function watchFor(b: string, { vehicle, days }: Prepared, lookBack: number): Watch {
  const found = days.get(b) ?? [];
  const before = found.filter((d) => d <= vehicle.from).at(-1);
  let from = before === undefined ? vehicle.from : Math.max(vehicle.from, before + lookBack);
  let event: number | null = null;
  // A B inside the look-back of an earlier one is the same trouble still: it moves the start on.
  for (const d of found) {
    if (d <= vehicle.from || d > vehicle.until) continue;
    if (d <= from) from = Math.max(from, d + lookBack);
    else {
      event = d;
      break;
    }
  }
  return { from: Math.min(from, vehicle.until), until: event ?? vehicle.until, event };
}

/** Time and events of all vehicles up to their first B, whatever came before. */
function untilFirst(prepared: readonly Prepared[], b: string, rule: PairRule, everyone: ReadonlyMap<string, number>): Totals {
  const time = new Map(everyone);
  const events = new Map<string, number>();
  for (const one of prepared) {
    if (!one.days.has(b)) continue;
    const watch = watchFor(b, one, rule.lookBack);
    for (const s of one.segments) {
      const kept = overlap(s, watch.from, watch.until);
      time.set(s.stratum, time.get(s.stratum)! - (s.until - s.from - kept));
    }
    if (watch.event !== null) bump(events, stratumAt(one.segments, watch.event), 1);
  }
  return { time, events };
}

function pairTable(prepared: readonly Prepared[], a: string, b: string, rule: PairRule, all: Totals): PairTable {
  const exposed = new Map<string, number>();
  const away = new Map<string, number>();
  const exposedEvents = new Map<string, number>();
  const awayEvents = new Map<string, number>();
  const shops = new Set<string>();
  const lags: number[] = [];
  let together = 0;
  for (const one of prepared) {
    const exposures = one.days.get(a);
    if (!exposures) continue;
    const watch = watchFor(b, one, rule.lookBack);
    if (!(watch.from < watch.until)) continue;
    for (const part of splitAtEvent({ from: watch.from, until: watch.until, exposures }, rule)) {
      if (part.kind !== 'reference') spread(one.segments, part, part.kind === 'exposed' ? exposed : away);
    }
    if (watch.event === null) continue;
    const kind = eventKind(watch.event, exposures, rule);
    if (kind === 'reference') continue;
    bump(kind === 'exposed' ? exposedEvents : awayEvents, stratumAt(one.segments, watch.event), 1);
    if (kind === 'neither') together++;
    else {
      lags.push(watch.event - exposures.filter((d) => d < watch.event!).at(-1)!);
      for (const f of one.vehicle.faults) if (f.fault === b && f.day === watch.event) shops.add(f.shop);
    }
  }
  const strata = new Map<string, RateStratum>();
  for (const [stratum, time] of all.time) {
    const exposedTime = exposed.get(stratum) ?? 0;
    const events = exposedEvents.get(stratum) ?? 0;
    const others = (all.events.get(stratum) ?? 0) - events - (awayEvents.get(stratum) ?? 0);
    const referenceTime = clear(time - exposedTime - (away.get(stratum) ?? 0), time);
    strata.set(stratum, { exposedEvents: events, exposedTime, referenceEvents: others, referenceTime });
  }
  return Object.freeze({
    a,
    b,
    strata,
    exposedEvents: lags.length,
    shops: Object.freeze([...shops].sort()),
    together,
    lags: Object.freeze(lags.sort((x, y) => x - y)),
  });
}

/** One pair over two disjoint sets of vehicles. */
export function mergedPair(one: PairTable, other: PairTable): PairTable {
  const strata = new Map(one.strata);
  for (const [stratum, more] of other.strata) {
    const so = strata.get(stratum);
    strata.set(
      stratum,
      so
        ? {
            exposedEvents: so.exposedEvents + more.exposedEvents,
            exposedTime: so.exposedTime + more.exposedTime,
            referenceEvents: so.referenceEvents + more.referenceEvents,
            referenceTime: so.referenceTime + more.referenceTime,
          }
        : more,
    );
  }
  return Object.freeze({
    a: one.a,
    b: one.b,
    strata,
    exposedEvents: one.exposedEvents + other.exposedEvents,
    shops: Object.freeze([...new Set([...one.shops, ...other.shops])].sort()),
    together: one.together + other.together,
    lags: Object.freeze([...one.lags, ...other.lags].sort((x, y) => x - y)),
  });
}

/** As `kindAt`, but the day of A itself belongs to its blanking: B on that day was found together with it. */
function eventKind(t: number, exposures: readonly number[], { blanking, window }: SplitRule): TimePart['kind'] {
  if (exposures.some((a) => t >= a && t <= a + blanking)) return 'neither';
  return exposures.some((a) => t > a + blanking && t <= a + blanking + window) ? 'exposed' : 'reference';
}

function spread(segments: readonly Segment[], part: TimePart, into: Map<string, number>): void {
  for (const s of segments) {
    const time = overlap(s, part.from, part.until);
    if (time > 0) bump(into, s.stratum, time);
  }
}

function overlap(s: Segment, from: number, until: number): number {
  return Math.max(0, Math.min(s.until, until) - Math.max(s.from, from));
}

/** Segments are (from, until]: an event at a border belongs to the one that ends there. */
function stratumAt(segments: readonly Segment[], t: number): string {
  return segments.find((s) => t > s.from && t <= s.until)!.stratum;
}

function bump(map: Map<string, number>, key: string, by: number): void {
  map.set(key, (map.get(key) ?? 0) + by);
}

/** Differences of sums that are 0 but for rounding are 0. */
function clear(difference: number, scale: number): number {
  return difference < scale * 1e-9 ? 0 : difference;
}
