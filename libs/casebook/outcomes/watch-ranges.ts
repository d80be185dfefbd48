import type { WatchStream } from '#libs/contracts/index.js';
import { sfc32 } from '#libs/numeric/index.js';
import { rangeScan } from '#libs/outcomes/index.js';
import type { Stream } from './watch-exposure.js';
import type { Onset } from './watches.queries.js';

const FALSE_FINDINGS = 0.05;
/** Of one plant; fewer events are no range. */
const FEWEST_EVENTS = 5;
/** Buckets of a line: the scan goes over all runs of them. Neighbours are taken together beyond that. */
const MOST_BUCKETS = 120;

/** The run of model years in which the events since the rise lie thickest, against the model years of the platform's other faults. */
export function yearsOf({ platformId, fault }: Stream, onsets: readonly Onset[], since: number): WatchStream['modelYears'] {
  const own = onsets.filter((one) => one.platformId === platformId && one.modelYear !== null);
  const years = own.map(({ modelYear }) => modelYear!);
  const events = own.filter((one) => one.fault === fault && one.day >= since);
  if (events.length === 0) return null;
  const first = Math.min(...years);
  const buckets = Math.max(...years) - first + 1;
  const counts = new Array<number>(buckets).fill(0);
  const expected = new Array<number>(buckets).fill(0.5);
  for (const one of own) {
    if (one.fault === fault) {
      if (one.day >= since) counts[one.modelYear! - first]! += 1;
    } else expected[one.modelYear! - first]! += 1;
  }
  if (buckets < 2) return null;
  // Seeded, so that the same records give the same answer.
  const { best, pValue } = rangeScan(counts, expected, sfc32(1).uniform, { longest: buckets - 1 });
  if (!best || pValue > FALSE_FINDINGS) return null;
  return {
    firstYear: first + best.first,
    lastYear: first + best.last,
    events: best.events,
    expected: best.expected,
    ratio: best.ratio,
    pValue,
  };
}

/**
 * The run of builds of one plant, by model year and sequence, in which the events since the rise lie thickest, against the platform's other faults of that
 * plant. p is taken times the number of plants that were looked at.
 */
export function buildRangeOf({ platformId, fault }: Stream, onsets: readonly Onset[], since: number): WatchStream['buildRange'] {
  const built = onsets.flatMap(({ platformId: of, fault: what, day, plant, modelYear, sequenceBucket }) =>
    of !== platformId || plant === null || modelYear === null || sequenceBucket === null
      ? []
      : [{ plant, build: modelYear * SEQUENCES + sequenceBucket, isEvent: what === fault && day >= since, isOther: what !== fault }],
  );
  const plants = [...new Set(built.map(({ plant }) => plant))].sort();
  const looked = plants.flatMap((plant) => {
    const own = built.filter((one) => one.plant === plant);
    if (own.filter(({ isEvent }) => isEvent).length < FEWEST_EVENTS) return [];
    const builds = [...new Set(own.map(({ build }) => build))].sort((a, b) => a - b);
    const together = Math.ceil(builds.length / MOST_BUCKETS);
    const place = new Map(builds.map((build, i) => [build, Math.floor(i / together)]));
    const buckets = Math.ceil(builds.length / together);
    if (buckets < 2) return [];
    const counts = new Array<number>(buckets).fill(0);
    const expected = new Array<number>(buckets).fill(0.5);
    for (const { build, isEvent, isOther } of own) {
      if (isEvent) counts[place.get(build)!]! += 1;
      if (isOther) expected[place.get(build)!]! += 1;
    }
    // Seeded, so that the same records give the same answer.
    const { best, pValue } = rangeScan(counts, expected, sfc32(1).uniform, { longest: buckets - 1 });
    return best === null
      ? []
      : [
          {
            plant,
            best,
            pValue,
            first: builds[best.first * together]!,
            last: builds[Math.min(builds.length, (best.last + 1) * together) - 1]!,
          },
        ];
  });
  const [found] = looked.sort((a, b) => a.pValue - b.pValue || b.best.ratio - a.best.ratio);
  if (!found || found.pValue * looked.length > FALSE_FINDINGS) return null;
  const { plant, best, first, last } = found;
  return {
    plant,
    firstYear: Math.floor(first / SEQUENCES),
    firstSequence: first % SEQUENCES,
    lastYear: Math.floor(last / SEQUENCES),
    lastSequence: last % SEQUENCES,
    events: best.events,
    expected: best.expected,
    ratio: best.ratio,
    pValue: found.pValue * looked.length,
  };
}
/** Sequence buckets of a model year. */
const SEQUENCES = 1_000;
