import type { EpisodeEnd, FaultCode, RepairAction, RepairIntent } from '#libs/contracts/index.js';
import type { StandingRules } from './outcome-rules.js';

const DAY_MS = 86_400_000;

/**
 * How an episode ends: decided from everything known of one vehicle, in whatever order it arrived. Pure, so that a
 * correction, a late arrival or a merge relinks by running it again.
 */
export interface LinkedRepair {
  readonly repairId: string;
  readonly caseId: string;
  readonly shopId: string;
  readonly fault: FaultCode;
  readonly action: RepairAction;
  readonly intent: RepairIntent;
  /** YYYY-MM-DD */
  readonly day: string;
}

export interface LinkedCase {
  readonly caseId: string;
  readonly shopId: string;
  /** YYYY-MM-DD in the shop's time zone. */
  readonly day: string;
  /** Microseconds since 1970. */
  readonly openedAt: number;
  readonly complaint: string;
  /** Proved causes; the engine's own guess is never a label. */
  readonly provedFaults: readonly FaultCode[];
  /** Faults whose repair was done at this visit. */
  readonly repairedFaults: readonly FaultCode[];
  readonly odometerKm: number | null;
}

export interface LinkedSighting {
  readonly day: string;
  readonly odometerKm: number | null;
}

/** What the rules take from the catalogue, and what an organisation may set. */
export interface LinkingRules {
  readonly version: number;
  readonly own: StandingRules;
  /** fault → faults it brings about when left in place */
  readonly leadsTo: ReadonlyMap<FaultCode, readonly FaultCode[]>;
  /** Faults a repair can cause by itself, by action. */
  readonly causedBy: ReadonlyMap<RepairAction, readonly FaultCode[]>;
}

export interface EpisodeOutcome {
  readonly end: EpisodeEnd;
  readonly endedOn: string;
  readonly endCaseId: string | null;
  readonly endShopId: string | null;
  /** Seen beyond the end of what the rules look back to: followed to that day, and no further. */
  readonly isCut: boolean;
}

/** Complaints that can mean "it came back"; a service visit or a new smell does not. */
const COOLING_COMPLAINTS: ReadonlySet<string> = new Set(['cools-poorly', 'cools-not', 'cools-at-times', 'noise', 'leak']);

/**
 * The first later visit that ends the episode, else censoring at the last sighting.
 *
 * The same visit means the same case, not the same day: a next-morning return is a return, unless the organisation has set that other orders of so many days at
 * the shop are of one visit. A visit beyond the days it looks back ends nothing, and the repair is followed to that day. A vehicle that was not seen for longer than
 * the organisation takes it to be around is lost: it ends nothing later, whatever it comes back with. One that never came back is not followed beyond those days
 * either, and which of the two it would be nobody knew while it was away. At a later visit the order of
 * precedence is: a permanent repair of the same fault after a temporary one, where no fault was found to have come back
 * (permanent-later); the same fault proved or repaired again (same-fault); a fault the repair itself can cause
 * (repair-caused); a fault the catalogue says follows from it (consequent-fault); the complaint of the first visit with
 * another cause proved (same-complaint).
 * A visit that proves nothing and repairs nothing ends nothing: suspicion is no label.
 */
export function episodeOutcome(
  repair: LinkedRepair,
  visit: LinkedCase,
  later: readonly LinkedCase[],
  laterRepairs: readonly LinkedRepair[],
  sightings: readonly LinkedSighting[],
  rules: LinkingRules,
): EpisodeOutcome {
  const ordered = later
    .filter((other) => other.caseId !== visit.caseId && other.openedAt > visit.openedAt)
    .sort((a, b) => a.openedAt - b.openedAt || (a.caseId < b.caseId ? -1 : 1));
  const { sameVisitDays, lookBackDays, presenceDays } = rules.own;
  const followedTo = lookBackDays === null ? null : dayAfter(repair.day, lookBackDays);
  const sameVisitTo = sameVisitDays === 0 ? null : dayAfter(visit.day, sameVisitDays);
  const seenOn = [...ordered, ...sightings].map(({ day }) => day).filter((day) => day > repair.day);
  const lastDay = lastBeforeLost(repair.day, seenOn.sort(), presenceDays);
  for (const other of ordered) {
    if (other.day > lastDay || (followedTo !== null && other.day > followedTo)) break;
    if (sameVisitTo !== null && other.shopId === visit.shopId && other.day <= sameVisitTo) continue;
    const end = endAt(repair, visit, other, laterRepairs, rules);
    if (end) return { end, endedOn: other.day, endCaseId: other.caseId, endShopId: other.shopId, isCut: false };
  }
  const isCut = followedTo !== null && lastDay > followedTo;
  return { end: 'running', endedOn: isCut ? followedTo : lastDay, endCaseId: null, endShopId: null, isCut };
}

/** The last of the days, in their order, before the first that comes later than `presenceDays` after the one before it. */
function lastBeforeLost(from: string, days: readonly string[], presenceDays: number): string {
  let last = from;
  for (const day of days) {
    if (day > dayAfter(last, presenceDays)) break;
    last = day;
  }
  return last;
}

const dayAfter = (day: string, days: number): string => new Date(Date.parse(`${day}T00:00:00Z`) + days * DAY_MS).toISOString().slice(0, 10);

function endAt(
  repair: LinkedRepair,
  visit: LinkedCase,
  other: LinkedCase,
  laterRepairs: readonly LinkedRepair[],
  rules: LinkingRules,
): EpisodeEnd | null {
  const known = new Set<FaultCode>([...other.provedFaults, ...other.repairedFaults]);
  known.delete('healthy');
  if (known.size === 0) return null;
  const cameBack = COOLING_COMPLAINTS.has(other.complaint);
  const permanent = laterRepairs.some((r) => r.caseId === other.caseId && r.fault === repair.fault && r.intent === 'permanent');
  if (repair.intent === 'temporary' && permanent && !cameBack) return 'permanent-later';
  if (known.has(repair.fault)) return 'same-fault';
  if ((rules.causedBy.get(repair.action) ?? []).some((fault) => known.has(fault))) return 'repair-caused';
  if ((rules.leadsTo.get(repair.fault) ?? []).some((fault) => known.has(fault))) return 'consequent-fault';
  if (cameBack && other.complaint === visit.complaint && other.provedFaults.length > 0) return 'same-complaint';
  return null;
}
