import { readFileSync } from 'node:fs';

/** Files of `data/system`, read once. Sources: data/system/README.md. */
const read = (name: string): string => readFileSync(new URL(`./data/system/${name}`, import.meta.url), 'utf8');

export interface ServiceWindow {
  readonly ambientF: number;
  readonly highPsig: readonly [number, number];
  readonly lowPsig: readonly [number, number];
}

export const SERVICE_WINDOWS = JSON.parse(read('service-windows.json')) as readonly ServiceWindow[];

/** Rows of the NIST no-fault tests, by the file's own column names. */
export const NIST_ROWS: readonly Readonly<Record<string, number>>[] = (() => {
  const [head, ...lines] = read('nistir7350-no-fault.csv').trim().split(/\r?\n/);
  const names = head!.split(',');
  return lines.map((line) => Object.fromEntries(line.split(',').map((value, i) => [names[i]!, Number(value)])));
})();
