import {
  aalenJohansen,
  type Columns,
  degreeDayTable,
  fitHeatClock,
  type HeatClockOptions,
  heatTime,
  logRank,
  returnProbability,
  stepAt,
} from '#libs/outcomes/index.js';
import { type Random, seeded } from './outcomes-random.js';

/** Monthly normals of an invented warm temperate place, and of a hotter one. */
export const MILD = [3, 5, 9, 14, 19, 24, 27, 26, 22, 15, 9, 4].map((meanC) => ({ meanC, sdC: 4 }));
export const HOT = [14, 16, 20, 25, 30, 34, 36, 35, 32, 26, 19, 14].map((meanC) => ({ meanC, sdC: 4 }));

const FIRST = Date.UTC(2020, 0, 1) / 86_400_000;
const LAST = FIRST + 6 * 366;
const MONTH = 30.4375;

/** Returns whose hazard is `perDegreeDay` x (degree-days of the day + c). Day of the return, or null after `most` days. */
function returnDay(random: Random, table: Float64Array, start: number, c: number, perDegreeDay: number, most: number): number | null {
  const life = random.exponential() / perDegreeDay;
  let [low, high] = [0, most];
  if (heatTime(table, FIRST, c, start, start + most) < life) return null;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (heatTime(table, FIRST, c, start, start + middle + 1) >= life) high = middle;
    else low = middle + 1;
  }
  return low;
}

export interface ArtefactStudy {
  /** Mean share back within 90 days of repairs made in May and in September. */
  readonly mayShare: number;
  readonly septemberShare: number;
  /** Share of log-rank tests, May against September, with p < 0.05 on each clock; 0.05 where nothing differs. */
  readonly calendarRejects: number;
  readonly heatRejects: number;
  /** Largest gap between the two months' shares back by 400 K d on the heat clock, averaged over the studies. */
  readonly gapOnHeat: number;
}

/** The same wear per degree-day in every episode; half begin in May, half in September. */
export function artefactStudy(studies: number, episodes: number, seed: number): ArtefactStudy {
  const random = seeded(seed);
  const table = degreeDayTable(MILD, FIRST, LAST);
  const sums = { may: 0, september: 0, calendar: 0, heat: 0, gap: 0 };
  for (let s = 0; s < studies; s++) {
    const groups = [4, 8].map((month) => {
      const list = Array.from({ length: episodes / 2 }, () => {
        const start = FIRST + Math.floor((month + random.uniform()) * MONTH);
        const day = returnDay(random, table, start, 0, 0.002, 400);
        const days = day === null ? 400 : day + 1;
        return { days, heat: heatTime(table, FIRST, 0, start, start + days), end: day === null ? 0 : 1 };
      });
      const end = Uint8Array.from(list, (e) => e.end);
      const calendar: Columns = { time: Float64Array.from(list, (e) => e.days), end };
      const heat: Columns = { time: Float64Array.from(list, (e) => e.heat), end };
      return { calendar, heat };
    });
    const [may, september] = groups.map((g) => returnProbability(g.calendar, 1, 90).probability) as [number, number];
    sums.may += may / studies;
    sums.september += september / studies;
    if (logRank(groups.map((g) => g.calendar)).pValue! < 0.05) sums.calendar += 1 / studies;
    if (logRank(groups.map((g) => g.heat)).pValue! < 0.05) sums.heat += 1 / studies;
    const curves = groups.map((g) => aalenJohansen(g.heat, 1));
    const at = (k: number, h: number) => curves[k]!.incidence[stepAt(curves[k]!.times, h)] ?? 0;
    sums.gap += Math.max(...[100, 200, 300, 400].map((h) => Math.abs(at(0, h) - at(1, h)))) / studies;
  }
  return {
    mayShare: sums.may,
    septemberShare: sums.september,
    calendarRejects: sums.calendar,
    heatRejects: sums.heat,
    gapOnHeat: sums.gap,
  };
}

export interface ClockStudy {
  readonly medianC: number;
  /** Share of 95 % intervals that hold the true c. */
  readonly coverage: number;
  readonly verdicts: Readonly<Record<string, number>>;
}

/** Episodes begun on any day in two climates, followed up to 500 days; c fitted. trueC Infinity: wear by calendar days only. */
export function clockStudy(
  studies: number,
  episodes: number,
  trueC: number,
  seed: number,
  sample?: HeatClockOptions['sample'],
): ClockStudy {
  const random = seeded(seed);
  const tables = [MILD, HOT].map((normals) => degreeDayTable(normals, FIRST, LAST));
  const calendar = trueC === Number.POSITIVE_INFINITY;
  const found: number[] = [];
  const verdicts: Record<string, number> = {};
  let held = 0;
  for (let s = 0; s < studies; s++) {
    const start: number[] = [];
    const days: number[] = [];
    const returned: number[] = [];
    const climate: number[] = [];
    for (let i = 0; i < episodes; i++) {
      const place = i % 2;
      const begun = FIRST + Math.floor(random.uniform() * 730);
      const follow = 100 + Math.floor(random.uniform() * 400);
      // c of 10,000 K drowns the degree-days, which never pass 20 a day.
      const day = returnDay(random, tables[place]!, begun, calendar ? 1e4 : trueC, calendar ? 2e-7 : 0.0005, follow);
      start.push(begun);
      climate.push(place);
      returned.push(day === null ? 0 : 1);
      days.push(day ?? follow);
    }
    const fit = fitHeatClock({ start, days, returned, climate }, tables, FIRST, sample === undefined ? {} : { sample });
    found.push(fit.c);
    verdicts[fit.verdict] = (verdicts[fit.verdict] ?? 0) + 1 / studies;
    if (fit.lower <= Math.min(trueC, 100) + 1e-9 && Math.min(trueC, 100) <= fit.upper + 1e-9) held++;
  }
  found.sort((a, b) => a - b);
  return { medianC: found[Math.floor(found.length / 2)]!, coverage: held / studies, verdicts };
}

export interface NoticedStudy {
  /** Share of studies by verdict, with noticing in the model; and by the clock that knows nothing of it. */
  readonly verdicts: Readonly<Record<string, number>>;
  /** Share of studies in which a delay of noticing was seen. */
  readonly delaySeen: number;
  /** Share of returns recorded from March to May. */
  readonly spring: number;
}

/**
 * Faults that come by the calendar, or by heat, and are noticed only on days on which somebody cools: on a day of r degree-days with a chance of
 * r/(r + 1.5) and 0.003 besides, which is not the form the fit supposes.
 */
export function noticedStudy(
  studies: number,
  episodes: number,
  wear: 'calendar' | 'heat',
  seed: number,
  sample?: HeatClockOptions['sample'],
): NoticedStudy {
  const random = seeded(seed);
  const tables = [MILD, HOT].map((normals) => degreeDayTable(normals, FIRST, LAST));
  const verdicts: Record<string, number> = {};
  let delaySeen = 0;
  let [spring, returns] = [0, 0];
  for (let s = 0; s < studies; s++) {
    const start: number[] = [];
    const days: number[] = [];
    const returned: number[] = [];
    const climate: number[] = [];
    for (let i = 0; i < episodes; i++) {
      const place = i % 2;
      const table = tables[place]!;
      const begun = FIRST + Math.floor(random.uniform() * 730);
      const follow = 200 + Math.floor(random.uniform() * 500);
      const failed = wear === 'calendar' ? Math.floor(random.exponential() * 900) : returnDay(random, table, begun, 0.01, 0.0005, follow);
      let noticed = failed;
      while (noticed !== null && noticed < follow) {
        const at = begun + noticed - FIRST;
        const r = table[at + 1]! - table[at]!;
        if (random.uniform() < r / (r + 1.5) + 0.003) break;
        noticed++;
      }
      const back = noticed !== null && noticed < follow;
      start.push(begun);
      climate.push(place);
      returned.push(back ? 1 : 0);
      days.push(back ? noticed! : follow);
      if (!back) continue;
      returns++;
      const month = new Date((begun + noticed!) * 86_400_000).getUTCMonth();
      if (month >= 2 && month <= 4) spring++;
    }
    const fit = fitHeatClock({ start, days, returned, climate }, tables, FIRST, sample === undefined ? {} : { sample });
    verdicts[fit.verdict] = (verdicts[fit.verdict] ?? 0) + 1 / studies;
    if (fit.noticedPerDegreeDay !== null) delaySeen += 1 / studies;
  }
  return { verdicts, delaySeen, spring: spring / returns };
}
