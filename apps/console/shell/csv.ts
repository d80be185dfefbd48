export type Cell = string | number | null;

/**
 * A table as CSV (RFC 4180). Text that a spreadsheet would run as a formula is given a leading apostrophe; numbers are written as they are.
 */
export function csvOf(header: readonly string[], rows: readonly (readonly Cell[])[]): string {
  return [header, ...rows]
    .map((row) => row.map(field).join(','))
    .join('\r\n')
    .concat('\r\n');
}

function field(cell: Cell): string {
  if (cell === null) return '';
  if (typeof cell === 'number') return String(cell);
  const safe = /^[=+\-@\t\r]/.test(cell) ? `'${cell}` : cell;
  return /[",\r\n]/.test(safe) ? `"${safe.replaceAll('"', '""')}"` : safe;
}

function download(name: string, type: string, content: string): void {
  downloadBlob(name, new Blob([content], { type }));
}

export function downloadCsv(name: string, header: readonly string[], rows: readonly (readonly Cell[])[]): void {
  download(`${name}.csv`, 'text/csv;charset=utf-8', csvOf(header, rows));
}

export function downloadBlob(name: string, blob: Blob): void {
  const url = URL.createObjectURL(blob);
  const link = document.createElement('a');
  link.href = url;
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(url), 10_000);
}
