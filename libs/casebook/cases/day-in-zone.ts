/** Making one takes longer than using it a hundred times; there are as many as time zones with shops in them. */
const formats = new Map<string, Intl.DateTimeFormat>();

/** The calendar day of an instant (text, or milliseconds since 1970) in a time zone, YYYY-MM-DD. */
export function dayInZone(instant: string | number, timeZone: string): string {
  let format = formats.get(timeZone);
  if (!format) {
    format = new Intl.DateTimeFormat('en-CA', { timeZone, year: 'numeric', month: '2-digit', day: '2-digit' });
    formats.set(timeZone, format);
  }
  return format.format(new Date(instant));
}

const MONTHS = 'January February March April May June July August September October November December'.split(' ');

/** A day as a sentence says it: 1 May 2027. */
export function dayInWords(day: string): string {
  const [year, month, date] = day.split('-').map(Number) as [number, number, number];
  return `${date} ${MONTHS[month - 1]} ${year}`;
}
