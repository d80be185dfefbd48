import { BadSample } from '#libs/numeric/index.js';

/**
 * What is known of one vehicle's faults over the time it was watched.
 *
 * from, until: watching, in days since 1970-01-01, from < until. `from` is the first visit: the vehicle is known because of it, so that what
 * was found there is no event, and time before it is not counted. built: day the vehicle was built (its age makes the stratum).
 * faults: PROVED causes only, with day and shop; on or before `from` they count as earlier exposure.
 * half: 0 discovery, 1 replication, from a stable hash kept with the vehicle, so that a vehicle never changes sides.
 */
export interface VehicleHistory {
  readonly platform: string;
  readonly climate?: string;
  readonly built: number;
  readonly from: number;
  readonly until: number;
  readonly half: 0 | 1;
  readonly faults: readonly ProvedFault[];
}

export interface ProvedFault {
  readonly fault: string;
  readonly day: number;
  readonly shop: string;
}

export interface StratumRule {
  /** Upper ends of the age bands in years; older is one more band. */
  readonly ageBandYears: readonly number[];
  /** Season of a month 0..11. */
  readonly seasonOfMonth: readonly number[];
}

/** Bands of three years and two seasons, May to September being the hot one (northern half of the world). */
export const DEFAULT_STRATA: StratumRule = Object.freeze({
  ageBandYears: Object.freeze([3, 6, 9, 12]),
  seasonOfMonth: Object.freeze([0, 0, 0, 0, 1, 1, 1, 1, 1, 0, 0, 0]),
});

export interface Segment {
  readonly stratum: string;
  readonly from: number;
  readonly until: number;
}

const DAY_MS = 86_400_000;
const YEAR_DAYS = 365.25;

/** The watched time cut where the season or the age band changes. */
export function segmentsOf(vehicle: VehicleHistory, rule: StratumRule): readonly Segment[] {
  const { from, until, built } = vehicle;
  if (!(Number.isFinite(from) && Number.isFinite(until) && from < until))
    throw new BadSample(`vehicle watched from ${from} until ${until}`);
  const cuts = [
    from,
    ...monthStarts(from, until),
    ...rule.ageBandYears.map((y) => built + y * YEAR_DAYS).filter((d) => d > from && d < until),
    until,
  ];
  cuts.sort((a, b) => a - b);
  const out: Segment[] = [];
  for (let i = 0; i + 1 < cuts.length; i++) {
    const middle = (cuts[i]! + cuts[i + 1]!) / 2;
    if (cuts[i] === cuts[i + 1]) continue;
    const age = rule.ageBandYears.filter((y) => middle >= built + y * YEAR_DAYS).length;
    const season = rule.seasonOfMonth[new Date(middle * DAY_MS).getUTCMonth()]!;
    const stratum = `${vehicle.platform}|${age}|${season}|${vehicle.climate ?? ''}`;
    const last = out.at(-1);
    if (last?.stratum === stratum) out[out.length - 1] = { ...last, until: cuts[i + 1]! };
    else out.push({ stratum, from: cuts[i]!, until: cuts[i + 1]! });
  }
  return out;
}

function monthStarts(from: number, until: number): number[] {
  const first = new Date(from * DAY_MS);
  const starts: number[] = [];
  for (let k = 1; ; k++) {
    const day = Date.UTC(first.getUTCFullYear(), first.getUTCMonth() + k, 1) / DAY_MS;
    if (day >= until) return starts;
    starts.push(day);
  }
}

export function platformOf(stratum: string): string {
  return stratum.slice(0, stratum.indexOf('|'));
}
