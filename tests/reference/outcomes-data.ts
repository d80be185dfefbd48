import { readFileSync } from 'node:fs';

/** A check file of data/outcomes; its own header names the source. */
export function checks<T>(name: string): T {
  return JSON.parse(readFileSync(new URL(`./data/outcomes/${name}.json`, import.meta.url), 'utf8')) as T;
}

/** Rows of a CSV of data/outcomes, as text by column; lines that start with # name the source. */
export function rows(name: string): Record<string, string>[] {
  const lines = readFileSync(new URL(`./data/outcomes/${name}.csv`, import.meta.url), 'utf8')
    .split('\n')
    .filter((line) => line !== '' && !line.startsWith('#'));
  const cells = (line: string) => line.split(',').map((cell) => cell.replace(/^"|"$/g, ''));
  const header = cells(lines[0]!);
  return lines.slice(1).map((line) => Object.fromEntries(cells(line).map((cell, i) => [header[i]!, cell])));
}

/** Largest of |a - b| / |b| (absolute where b is 0) over two equally long lists. */
export function worstRelative(actual: ArrayLike<number>, expected: ArrayLike<number>): number {
  let worst = actual.length === expected.length ? 0 : Number.POSITIVE_INFINITY;
  for (let i = 0; i < expected.length; i++) {
    const scale = expected[i] === 0 ? 1 : Math.abs(expected[i]!);
    const error = Math.abs(actual[i]! - expected[i]!) / scale;
    worst = Number.isNaN(error) ? Number.POSITIVE_INFINITY : Math.max(worst, error);
  }
  return worst;
}
