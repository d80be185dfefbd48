/** Making one takes longer than using it a hundred times; there are as many as time zones with shops in them. */
const formats = new Map<string, Intl.DateTimeFormat>();

/** The calendar day of an instant in a time zone, YYYY-MM-DD. */
export function dayInZone(instant: string, timeZone: string): string {
  let format = formats.get(timeZone);
  if (!format) {
    format = new Intl.DateTimeFormat('en-CA', { timeZone, year: 'numeric', month: '2-digit', day: '2-digit' });
    formats.set(timeZone, format);
  }
  return format.format(new Date(instant));
}
