const MONTH = /^\d{4}-(0[1-9]|1[0-2])$/;

/** The month of an address, YYYY-MM; the last whole one before `now` when it names none. */
export function monthOf(named: string | null, now: Date): string {
  if (named !== null && MONTH.test(named)) return named;
  const last = new Date(Date.UTC(now.getUTCFullYear(), now.getUTCMonth() - 1, 1));
  return last.toISOString().slice(0, 7);
}

/** Its first day, and the first day after it. */
export function monthBounds(month: string): { readonly since: string; readonly until: string } {
  const [year, number] = month.split('-').map(Number) as [number, number];
  return { since: `${month}-01`, until: new Date(Date.UTC(year, number, 1)).toISOString().slice(0, 10) };
}
