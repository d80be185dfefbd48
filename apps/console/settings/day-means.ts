import type { Read } from '../bay/grid.ts';
import { cellsOf, numberIn } from '../bay/table-text.ts';
import type { NewDayMean } from '../client/generated/api.ts';

const refuse = (why: string) => ({ ok: false as const, why });
const COLDEST_C = -70;
const HOTTEST_C = 60;

/** A calendar day as weather services write it: 2026-07-01, 20260701, 1.7.2026; null where it is none, or could be two. */
export function dayIn(cell: string): string | null {
  const parts =
    /^(\d{4})-?(\d{2})-?(\d{2})(?:[T ].*)?$/.exec(cell)?.slice(1, 4) ?? /^(\d{1,2})\.(\d{1,2})\.(\d{4})$/.exec(cell)?.slice(1, 4).reverse();
  if (!parts) return null;
  const day = `${parts[0]}-${parts[1]!.padStart(2, '0')}-${parts[2]!.padStart(2, '0')}`;
  const at = Date.parse(`${day}T00:00:00Z`);
  return Number.isNaN(at) || new Date(at).toISOString().slice(0, 10) !== day ? null : day;
}

/**
 * Daily means from a file or pasted text: two columns, day and mean in °C, with or without a heading; further columns are passed over. A line
 * that cannot be read refuses the whole, so that nothing is left out unseen; a day without a figure is passed over.
 */
export function readDayMeans(text: string): Read<readonly NewDayMean[]> {
  const [first, ...rest] = cellsOf(text);
  if (!first) return refuse('It is empty.');
  const lines = dayIn(first[0] ?? '') === null ? rest : [first, ...rest];
  if (lines.length === 0) return refuse('It has a heading and no days.');
  const heading = lines.length === rest.length ? 1 : 0;
  const days = new Map<string, number>();
  for (const [i, cells] of lines.entries()) {
    const line = i + 1 + heading;
    const day = dayIn(cells[0] ?? '');
    if (day === null)
      return refuse(
        `Line ${line}: “${cells[0]}” is no day. Write days as 2026-07-01; with slashes nobody can tell the day from the month.`,
      );
    if ((cells[1] ?? '') === '') continue;
    const meanC = numberIn(cells[1]!);
    if (meanC === null) return refuse(`Line ${line}: “${cells[1]}” is no temperature.`);
    if (meanC < COLDEST_C || meanC > HOTTEST_C)
      return refuse(`Line ${line}: ${meanC} °C is no mean of a day. Are these degrees Fahrenheit, or tenths of a degree?`);
    if (days.has(day)) return refuse(`Line ${line}: ${day} stands there twice.`);
    days.set(day, meanC);
  }
  if (days.size === 0) return refuse('No day has a temperature beside it.');
  return { ok: true, value: [...days].map(([day, meanC]) => ({ day, meanC })) };
}
