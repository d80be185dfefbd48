import { readFileSync } from 'node:fs';

const FOLDER = new URL('./thermo/', import.meta.url);

export type Row = Readonly<Record<string, number>>;

/** Rows of a check table; text columns (phase) become NaN. */
export function checkTable(name: string): readonly Row[] {
  const [head, ...lines] = readFileSync(new URL(`${name}.csv`, FOLDER), 'utf8')
    .trim()
    .split('\n');
  const columns = head!.split(',');
  return lines.map((line) => Object.fromEntries(line.split(',').map((cell, i) => [columns[i]!, Number(cell)])));
}

export interface PublishedCheck {
  readonly quantity: string;
  readonly fluid: 'R134a' | 'R1234yf' | 'moist air' | 'standard atmosphere';
  readonly inputs: Readonly<Record<string, number | string>>;
  readonly value: number;
  readonly unit: string;
  readonly tolerance: number;
  readonly source: string;
  readonly foundAt: string;
  readonly note?: string;
  readonly useAs?: 'informational';
}

export const PUBLISHED: readonly PublishedCheck[] = JSON.parse(readFileSync(new URL('published.json', FOLDER), 'utf8'));

/** Largest relative difference seen per label, so that one expectation covers a table and its message names the worst property. */
export class Worst {
  private readonly seen = new Map<string, { error: number; row: unknown }>();

  add(label: string, actual: number, expected: number, row: unknown): void {
    const error = Math.abs(actual / expected - 1);
    const before = this.seen.get(label);
    if (!before || !(error <= before.error)) this.seen.set(label, { error, row });
  }

  /** Labels whose worst row is above the limit (NaN included), with that row. */
  above(limit: number): unknown[] {
    return [...this.seen].filter(([, { error }]) => !(error <= limit)).map(([label, { error, row }]) => ({ label, error, row }));
  }

  get size(): number {
    return this.seen.size;
  }
}
