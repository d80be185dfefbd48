import { BadSample } from '#libs/numeric/index.js';

/**
 * The end of the next hot season after a day: the first day, at least `least` days ahead, on which the hot months of the climate are over.
 *
 * A month is hot when its expected degree-days per day are at least a tenth of the hottest month's.
 *
 * monthly: expected degree-days of one day, January first, >= 0; day: days since 1970-01-01. Result: the first day of the first month that is
 * not hot after a hot one. A repair late in a season therefore is asked to hold through the NEXT one when fewer than `least` (30) days
 * of the present one are left. null where every month is hot or none is: there is no season to end.
 */
export function endOfHotSeason(monthly: readonly number[], day: number, least = 30): number | null {
  if (monthly.length !== 12 || !monthly.every((m) => m >= 0 && Number.isFinite(m)))
    throw new BadSample('12 monthly degree-days >= 0 are needed');
  if (!Number.isInteger(day)) throw new BadSample(`day ${day} is not a whole number`);
  const hottest = Math.max(...monthly);
  const hot = monthly.map((m) => hottest > 0 && m >= HOT_SHARE * hottest);
  if (hot.every((h) => h) || !hot.some((h) => h)) return null;
  const begin = new Date(day * DAY_MS);
  for (let ahead = 1; ahead <= 26; ahead++) {
    const first = new Date(Date.UTC(begin.getUTCFullYear(), begin.getUTCMonth() + ahead, 1));
    const month = first.getUTCMonth();
    const at = first.getTime() / DAY_MS;
    if (!hot[month]! && hot[(month + 11) % 12]! && at - day >= least) return at;
  }
  return null;
}

const HOT_SHARE = 0.1;
const DAY_MS = 86_400_000;
