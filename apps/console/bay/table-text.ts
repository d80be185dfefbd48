/** Numbers out of pasted or exported text: instruments write them with points or commas, and part them in every way. */

export type Cells = readonly (readonly string[])[];

/** Cells of delimited text. Semicolon and tab part before comma, which may be the decimal sign then; blanks part when nothing else does. */
export function cellsOf(text: string): Cells {
  const lines = text
    .replace(/^\uFEFF/, '')
    .split(/\r?\n/)
    .map((line) => line.trim())
    .filter((line) => line !== '');
  const mark = [';', '\t', ','].find((one) => lines.some((line) => line.includes(one)));
  return lines.map((line) =>
    (mark === undefined ? line.split(/\s+/) : line.split(mark)).map((cell) => cell.trim().replace(/^"(.*)"$/, '$1')),
  );
}

/** A number of a cell; a comma counts as decimal sign only where cells are not parted by it, which `cellsOf` has seen to. */
export function numberIn(cell: string): number | null {
  const plain = cell.replace(',', '.');
  return /^[-+]?(\d+(\.\d*)?|\.\d+)(e[-+]?\d+)?$/i.test(plain) ? Number(plain) : null;
}
