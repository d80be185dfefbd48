import { cellsOf, numberIn } from './table-text.ts';

export const MAX_SIDE = 240;

export type Read<T> = { readonly ok: true; readonly value: T } | { readonly ok: false; readonly why: string };
const refuse = (why: string) => ({ ok: false as const, why });

/**
 * A temperature grid from a file or pasted text: CSV (one line a row, top row first) or JSON (rows of numbers, or an object with `rows`).
 * Lines of one cell before the grid, as instruments write them on top, are passed over.
 */
export function readGrid(text: string): Read<number[][]> {
  const trimmed = text.trim();
  if (trimmed === '') return refuse('It is empty.');
  const rows = /^[[{]/.test(trimmed) ? jsonRows(trimmed) : csvRows(trimmed);
  if (!rows.ok) return rows;
  const grid = rows.value;
  if (grid.length < 4) return refuse(`It has ${grid.length} rows: a step needs at least four heights.`);
  const widths = new Set(grid.map((row) => row.length));
  if (widths.size > 1) {
    const odd = grid.findIndex((row) => row.length !== grid[0]!.length);
    return refuse(`Row ${odd + 1} has ${grid[odd]!.length} values, the first has ${grid[0]!.length}. Every row needs as many.`);
  }
  const flat = grid.flat();
  const beyond = flat.find((value) => value < -60 || value > 400);
  if (beyond !== undefined) return refuse(`${beyond} is no temperature of a condenser. Is this the picture’s brightness instead?`);
  return { ok: true, value: thinned(grid) };
}

function jsonRows(text: string): Read<number[][]> {
  let parsed: unknown;
  try {
    parsed = JSON.parse(text);
  } catch {
    return refuse('It begins like JSON but is not: export it again, or as CSV.');
  }
  const rows = Array.isArray(parsed) ? parsed : (parsed as { rows?: unknown }).rows;
  if (!Array.isArray(rows) || !rows.every((row) => Array.isArray(row) && row.every((value) => typeof value === 'number')))
    return refuse('JSON must hold rows of numbers: [[31.2, 30.8], [29.9, 29.5]], alone or under "rows".');
  return { ok: true, value: rows as number[][] };
}

function csvRows(text: string): Read<number[][]> {
  const cells = cellsOf(text);
  const start = cells.findIndex((row) => row.length > 1 && row.every((cell) => cell === '' || numberIn(cell) !== null));
  if (start < 0) return refuse('There is no row of numbers in it.');
  const grid: number[][] = [];
  for (const [i, row] of cells.slice(start).entries()) {
    const filled = row.at(-1) === '' ? row.slice(0, -1) : row;
    const wrong = filled.findIndex((cell) => numberIn(cell) === null);
    if (wrong >= 0) return refuse(`Row ${start + i + 1}, column ${wrong + 1}: “${filled[wrong]!.slice(0, 20)}” is not a number.`);
    grid.push(filled.map((cell) => numberIn(cell)!));
  }
  return { ok: true, value: grid };
}

/** No larger than what a map may hold: cells are averaged over whole blocks. */
function thinned(grid: number[][]): number[][] {
  const down = Math.ceil(grid.length / MAX_SIDE);
  const across = Math.ceil(grid[0]!.length / MAX_SIDE);
  return down === 1 && across === 1 ? grid : blocks(grid, down, across);
}

/** Means over blocks of so many rows and columns. */
export function blocks(grid: readonly (readonly number[])[], down: number, across: number): number[][] {
  const out: number[][] = [];
  for (let i = 0; i < grid.length; i += down) {
    const band = grid.slice(i, i + down);
    const row: number[] = [];
    for (let j = 0; j < grid[0]!.length; j += across) {
      const cells = band.flatMap((line) => line.slice(j, j + across));
      row.push(Math.round((10 * cells.reduce((sum, value) => sum + value, 0)) / cells.length) / 10);
    }
    out.push(row);
  }
  return out;
}
