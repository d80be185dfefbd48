import type { Read } from './grid.ts';
import { cellsOf, numberIn } from './table-text.ts';

export interface Sample {
  readonly second: number;
  readonly value: number;
}

export const MAX_SAMPLES = 20_000;
const DAY = 86_400;
const refuse = (why: string) => ({ ok: false as const, why });

/** Seconds of a time as instruments write it: 12.5, 1:30, 00:01:30.5, or an instant. */
export function secondsIn(cell: string): number | null {
  const plain = numberIn(cell);
  if (plain !== null) return plain;
  const clock = /^(?:(\d{1,2}):)?(\d{1,2}):(\d{1,2}(?:[.,]\d+)?)$/.exec(cell);
  if (clock) return Number(clock[1] ?? 0) * 3600 + Number(clock[2]) * 60 + Number(clock[3]!.replace(',', '.'));
  if (/^\d{4}-\d\d-\d\d[T ]\d\d:\d\d/.test(cell)) {
    const instant = Date.parse(cell.replace(' ', 'T'));
    return Number.isNaN(instant) ? null : instant / 1000;
  }
  return null;
}

/**
 * A pressure trace from a file or pasted text: two columns, time and pressure (further ones are passed over), with or without a heading; or
 * JSON, pairs or objects with `second` and `value`. Time begins at the first sample. Longer traces than may be stored are thinned evenly.
 */
export function readTrace(text: string): Read<readonly Sample[]> {
  const trimmed = text.trim();
  if (trimmed === '') return refuse('It is empty.');
  const read = trimmed.startsWith('[') ? jsonSamples(trimmed) : csvSamples(trimmed);
  if (!read.ok) return read;
  const samples = [...read.value].sort((a, b) => a.second - b.second);
  if (samples.length < 2) return refuse('A trace needs at least two samples.');
  const start = samples[0]!.second;
  if (samples.at(-1)!.second - start > DAY) return refuse('It is longer than a day: is the first column really the time, in seconds?');
  const every = Math.ceil(samples.length / MAX_SAMPLES);
  const kept = every === 1 ? samples : samples.filter((_, i) => i % every === 0);
  return { ok: true, value: kept.map(({ second, value }) => ({ second: Math.round((second - start) * 1000) / 1000, value })) };
}

function jsonSamples(text: string): Read<readonly Sample[]> {
  let parsed: unknown;
  try {
    parsed = JSON.parse(text);
  } catch {
    return refuse('It begins like JSON but is not: export it again, or as CSV.');
  }
  const samples: Sample[] = [];
  for (const [i, one] of (parsed as unknown[]).entries()) {
    const [second, value] = Array.isArray(one) ? one : [(one as Sample | null)?.second, (one as Sample | null)?.value];
    if (typeof second !== 'number' || typeof value !== 'number')
      return refuse(`Sample ${i + 1}: must be [second, value] or {"second": …, "value": …}.`);
    samples.push({ second, value });
  }
  return { ok: true, value: samples };
}

function csvSamples(text: string): Read<readonly Sample[]> {
  const cells = cellsOf(text);
  const start = cells.findIndex((row) => row.length > 1 && secondsIn(row[0]!) !== null && numberIn(row[1]!) !== null);
  if (start < 0) return refuse('There is no line with a time and a pressure in it. Two columns are needed: seconds and pressure.');
  const samples: Sample[] = [];
  for (const [i, row] of cells.slice(start).entries()) {
    const second = secondsIn(row[0]!);
    const value = row[1] === undefined ? null : numberIn(row[1]);
    if (second === null || value === null)
      return refuse(`Line ${start + i + 1}: “${row.slice(0, 2).join(' ').slice(0, 30)}” is not a time and a pressure.`);
    samples.push({ second, value });
  }
  return { ok: true, value: samples };
}
