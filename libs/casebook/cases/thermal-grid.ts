import type { ProblemIssue, ThermalMap } from '#libs/contracts/index.js';
import { findUnit, toSI } from '#libs/units/index.js';

const MAX_SIDE = 240;
const NUMBER = /^[+-]?(\d+([.,]\d*)?|[.,]\d+)$/;
/** Nothing on a condenser in a workshop is colder or hotter, K: what lies outside was typed in another unit. */
const COLDEST_K = 223;
const HOTTEST_K = 423;

/**
 * A thermal map as it is stored: a grid that came as CSV is taken apart into rows, one line a row, top first. Delimiter by what stands there: tab, semicolon
 * (then a comma may be the decimal sign) or comma. What is wrong is added to `issues` with its line and column.
 */
export function storedMap({ csv, ...map }: ThermalMap, pointer: string, issues: ProblemIssue[]): ThermalMap {
  const found = issues.length;
  const rows = csv === undefined ? map.rows : gridOf(csv, `${pointer}/csv`, issues);
  if (csv !== undefined && map.rows !== undefined) {
    issues.push({
      pointer: `${pointer}/csv`,
      code: 'cases/grid_unreadable',
      detail: 'The grid was sent twice, as rows and as CSV.',
      remedy: 'Send one of the two.',
    });
  }
  if (issues.length > found) return map;
  const stored = { ...map, ...(rows === undefined ? {} : { rows }) };
  const odd = oddTemperature(stored);
  if (odd !== null) {
    issues.push({
      pointer: `${pointer}/unit`,
      code: 'cases/impossible_value',
      detail: `Half of the map would be ${odd.toFixed(0)} °C or beyond: no condenser is.`,
      remedy: 'Look at the unit of the map: Cel, [degF] or K.',
    });
  }
  return stored;
}

function gridOf(csv: string, pointer: string, issues: ProblemIssue[]): number[][] {
  const lines = csv.replace(/^\uFEFF/, '').split(/\r\n|\n|\r/);
  while (lines.length > 0 && lines.at(-1)!.trim() === '') lines.pop();
  const delimiter = csv.includes('\t') ? '\t' : csv.includes(';') ? ';' : ',';
  const wrong = (detail: string, remedy: string) => issues.push({ pointer, code: 'cases/grid_unreadable', detail, remedy });
  const rows: number[][] = [];
  for (const [i, line] of lines.entries()) {
    const cells = line.split(delimiter).map((cell) => cell.trim().replace(/^"(.*)"$/, '$1'));
    if (cells.length > 1 && cells.at(-1) === '') cells.pop();
    const row = cells.map((cell) => (NUMBER.test(cell) ? Number(cell.replace(',', '.')) : Number.NaN));
    const bad = row.findIndex((value) => Number.isNaN(value));
    if (bad >= 0) {
      wrong(
        `Line ${i + 1}, column ${bad + 1}: "${cells[bad]!.slice(0, 20)}" is no temperature.`,
        'Send the numbers alone: one line a row of the picture, top first, without headings.',
      );
      return [];
    }
    rows.push(row);
  }
  const width = rows[0]?.length ?? 0;
  const ragged = rows.findIndex((row) => row.length !== width);
  if (ragged >= 0)
    wrong(`Line ${ragged + 1} has ${rows[ragged]!.length} values, line 1 has ${width}.`, 'Give every row the same number of values.');
  if (width === 0) wrong('The grid is empty.', 'Send at least one line of numbers, or leave the map out.');
  if (rows.length > MAX_SIDE || width > MAX_SIDE)
    wrong(
      `The grid is ${rows.length} × ${width}; at most ${MAX_SIDE} × ${MAX_SIDE} is taken.`,
      'Average neighbouring pixels, or cut the picture to the condenser.',
    );
  return rows;
}

/** The median in °C when it cannot be. */
function oddTemperature({ unit, rows, spots }: ThermalMap): number | null {
  const known = findUnit(unit)!;
  const kelvin = [...(rows ?? []).flat(), ...(spots ?? []).map(({ temperature }) => temperature)]
    .map((value) => toSI(value, known))
    .sort((a, b) => a - b);
  const median = kelvin[kelvin.length >> 1];
  return median === undefined || (median >= COLDEST_K && median <= HOTTEST_K) ? null : median - 273.15;
}
