import type { CsvField, ImportMapping, RowProblem } from '#libs/contracts/index.js';
import { readDay, readInstant, readNumber, type Understood } from './cells.js';
import type { ColumnUse } from './heading.js';

/** What the records of one order say, as a case to be judged like any other; where each value came from; and what could not be read. */
export interface CsvCase {
  readonly value: Readonly<Record<string, unknown>>;
  /** Heading behind a JSON pointer, or behind the nearest thing above it. */
  readonly columnOf: (pointer: string) => string | null;
  readonly problems: readonly RowProblem[];
}

/** Names of units in the trade, as UCUM codes. */
const UNIT_WORDS: Readonly<Record<string, string>> = {
  psi: '[psi]',
  psig: '[psi]',
  bar: 'bar',
  kpa: 'kPa',
  mpa: 'MPa',
  c: 'Cel',
  '°c': 'Cel',
  celsius: 'Cel',
  f: '[degF]',
  '°f': '[degF]',
  fahrenheit: '[degF]',
  km: 'km',
  mi: '[mi_i]',
  miles: '[mi_i]',
};
const unitCode = (word: string): string => {
  const plain = word.trim().toLowerCase();
  return Object.hasOwn(UNIT_WORDS, plain) ? UNIT_WORDS[plain]! : word.trim();
};
// What belongs to the number and what begins a unit have no character in common: a cell is read once, however long it is.
const VALUE_WITH_UNIT = /^([+-]?[\d.,\s']+)([^\d\s.,'+-]\S*)$/;

/** Text a spreadsheet was kept from computing, as our own exports write it. */
export const unescapedCell = (cell: string): string => (/^'+[=+\-@\t\r]/.test(cell) ? cell.slice(1) : cell);

const PRESSURES = [
  ['low_side_pressure', 'low-side-port', 'running'],
  ['high_side_pressure', 'high-side-port', 'running'],
  ['rest_low_side_pressure', 'low-side-port', 'rest'],
  ['rest_high_side_pressure', 'high-side-port', 'rest'],
] as const satisfies readonly (readonly [CsvField, string, string])[];

/** Reads the records of one order: the first says what the order is, further ones add readings and repairs; the same record twice counts once. */
export function readCsvCase(
  written: readonly (readonly string[])[],
  uses: readonly ColumnUse[],
  mapping: ImportMapping,
  zoneOf: (shopCode: string | undefined) => string,
): CsvCase {
  const records = [...new Map(written.map((record) => [JSON.stringify(record), record])).values()];
  const problems: RowProblem[] = [];
  const overfull = records.find((record) => record.slice(uses.length).some((cell) => cell.trim() !== ''));
  if (overfull) {
    const detail = `The line has ${overfull.length} cells under ${uses.length} headings.`;
    const remedy = 'A cell that holds the delimiter must stand in double quotes.';
    return { value: {}, columnOf: () => null, problems: [{ pointer: '', column: null, code: 'imports/too_many_cells', detail, remedy }] };
  }
  const origins = new Map<string, string>();
  const columns = new Map<CsvField, { index: number; use: ColumnUse }>();
  for (const [index, use] of uses.entries()) if (use.field !== null && !columns.has(use.field)) columns.set(use.field, { index, use });
  const constants = new Map((mapping.constants ?? []).map(({ field, value }) => [field, value]));
  const words = new Map((mapping.values ?? []).map(({ field, from, to }) => [`${field} ${from.trim().toLowerCase()}`, to]));

  const cell = (record: readonly string[], field: CsvField, pointer: string): string | undefined => {
    const column = columns.get(field);
    const written = column === undefined ? '' : unescapedCell(record[column.index] ?? '').trim();
    if (column !== undefined) origins.set(pointer, column.use.heading);
    if (written === '') return constants.get(field);
    return words.get(`${field} ${written.toLowerCase()}`) ?? written;
  };
  const understood = <T>(read: Understood<T>, pointer: string): T | undefined => {
    if (read.ok) return read.value;
    problems.push({
      pointer,
      column: origins.get(pointer) ?? null,
      code: 'imports/unreadable_cell',
      detail: read.detail,
      remedy: read.remedy,
    });
    return undefined;
  };
  const number = (record: readonly string[], field: CsvField, pointer: string): number | undefined => {
    const text = cell(record, field, pointer);
    return text === undefined ? undefined : understood(readNumber(text, mapping.decimal), pointer);
  };
  /** A value whose unit stands in the cell, in the mapping, or in a column of units: there is where a wrong one is mended. */
  const quantity = (record: readonly string[], field: CsvField, pointer: string, unit: string | undefined, unitField?: CsvField) => {
    const text = cell(record, field, pointer);
    if (text === undefined) return undefined;
    const withUnit = VALUE_WITH_UNIT.exec(text);
    const value = understood(readNumber(withUnit?.[1] ?? text, mapping.decimal), pointer);
    const own = withUnit?.[2] ?? columns.get(field)?.use.unit ?? undefined;
    const code = own ?? unit;
    const unitColumn = own === undefined && unitField !== undefined ? columns.get(unitField) : undefined;
    if (unitColumn !== undefined) origins.set(`${pointer.replace(/\/value$/, '')}/unit`, unitColumn.use.heading);
    if (value === undefined) return undefined;
    if (code === undefined) {
      problems.push({
        pointer,
        column: origins.get(pointer) ?? null,
        code: 'imports/unit_missing',
        detail: 'The value has no unit.',
        remedy: 'Give the column a unit in the mapping, or add a unit column.',
      });
      return undefined;
    }
    return { value, unit: unitCode(code) };
  };
  const list = (text: string | undefined) => text?.split(/[|+]/).map((one) => one.trim());

  const [head = []] = records;
  const shopCode = cell(head, 'shop_code', '/shopCode');
  const zone = zoneOf(shopCode);
  const openedAtText = cell(head, 'opened_at', '/openedAt');
  const reference = cell(head, 'reference', '/source/reference');
  const revision = number(head, 'revision', '/source/revision');
  const modelYear = number(head, 'model_year', '/vehicle/modelYear');
  const temperatureUnit = cell(head, 'temperature_unit', '/evidence/conditions');
  const readings: Record<string, unknown>[] = [];
  const repairs: Record<string, unknown>[] = [];
  for (const record of records) {
    const reference = cell(record, 'pressure_reference', '/evidence/readings');
    const pressureUnit = cell(record, 'pressure_unit', '/evidence/readings');
    for (const [field, place, phase] of PRESSURES) {
      const at = `/evidence/readings/${readings.length}`;
      const read = quantity(record, field, `${at}/value`, pressureUnit, 'pressure_unit');
      if (!read) continue;
      origins.set(at, columns.get(field)?.use.heading ?? field);
      readings.push({ quantity: 'pressure', place, phase, instrument: 'manifold-gauge', ...(reference ? { reference } : {}), ...read });
    }
    const at = `/evidence/readings/${readings.length}`;
    const outlet = quantity(record, 'outlet_air', `${at}/value`, cell(record, 'temperature_unit', at), 'temperature_unit');
    if (outlet) {
      origins.set(at, columns.get('outlet_air')?.use.heading ?? 'outlet_air');
      readings.push({ quantity: 'temperature', place: 'vent', phase: 'running', ...outlet });
    }
    const repair = repairOf(record, repairs.length);
    if (repair) repairs.push(repair);
  }

  function repairOf(record: readonly string[], index: number): Record<string, unknown> | null {
    const at = `/repairs/${index}`;
    const action = cell(record, 'repair_action', `${at}/action`);
    const line = cell(record, 'line_text', `${at}/note`);
    const rule =
      line === undefined ? undefined : mapping.lines?.find(({ contains }) => line.toLowerCase().includes(contains.toLowerCase()));
    if (action === undefined && rule === undefined) return null;
    const day = cell(record, 'repair_day', `${at}/day`);
    const part = cell(record, 'repair_part', `${at}/parts/0/name`);
    return defined({
      action: action ?? rule!.action,
      fault: cell(record, 'repair_fault', `${at}/fault`) ?? rule?.fault ?? cell(record, 'proved_fault', `${at}/fault`),
      intent: cell(record, 'repair_intent', `${at}/intent`) ?? rule?.intent,
      day: day === undefined ? undefined : understood(readDay(day, mapping.dates), `${at}/day`),
      parts: part === undefined ? undefined : [{ name: part, quantity: 1 }],
      recoveredG: number(record, 'recovered_g', `${at}/recoveredG`),
      chargedG: number(record, 'charged_g', `${at}/chargedG`),
      labourHours: number(record, 'labour_hours', `${at}/labourHours`),
      cost: number(record, 'cost', `${at}/cost`),
      note: line?.slice(0, 1000),
    });
  }

  const provedFaults = list(cell(head, 'proved_fault', '/proofs/0/faults'));
  const conditions = defined({
    outsideAir: quantity(head, 'outside_air', '/evidence/conditions/outsideAir', temperatureUnit, 'temperature_unit'),
    relativeHumidity: quantity(head, 'relative_humidity', '/evidence/conditions/relativeHumidity', '%'),
  });
  const evidence = defined({
    conditions: Object.keys(conditions).length > 0 ? conditions : undefined,
    readings: readings.length > 0 ? readings : undefined,
  });
  const value = defined({
    shopCode,
    vehicle: defined({
      vin: cell(head, 'vin', '/vehicle/vin'),
      plate: cell(head, 'plate', '/vehicle/plate'),
      platformCode: cell(head, 'platform_code', '/vehicle/platformCode'),
      modelYear,
    }),
    odometer: quantity(head, 'odometer', '/odometer', cell(head, 'odometer_unit', '/odometer/unit'), 'odometer_unit'),
    openedAt: openedAtText === undefined ? undefined : understood(readInstant(openedAtText, mapping.dates, zone), '/openedAt'),
    complaint: cell(head, 'complaint', '/complaint'),
    complaintText: cell(head, 'complaint_text', '/complaintText'),
    notes: cell(head, 'notes', '/notes'),
    source:
      reference === undefined
        ? undefined
        : defined({ system: cell(head, 'system', '/source/system'), reference, revision, link: cell(head, 'link', '/source/link') }),
    evidence: Object.keys(evidence).length > 0 ? evidence : undefined,
    proofs:
      provedFaults === undefined
        ? undefined
        : [defined({ faults: provedFaults, method: cell(head, 'proof_method', '/proofs/0/method') ?? 'judgement' })],
    repairs: repairs.length > 0 ? repairs : undefined,
    voided: voidedReason(cell(head, 'voided', '/voided')),
  });
  return { value, problems, columnOf: (pointer) => originOf(pointer, origins) };
}

function originOf(pointer: string, origins: ReadonlyMap<string, string>): string | null {
  for (let at = pointer; at !== ''; at = at.slice(0, at.lastIndexOf('/'))) {
    const found = origins.get(at);
    if (found !== undefined) return found;
  }
  return null;
}

/** A column that says whether an order was cancelled holds a yes, a no, or the reason itself. */
function voidedReason(cell: string | undefined): string | undefined {
  if (cell === undefined || /^(0|no|n|false|open|closed)$/i.test(cell)) return undefined;
  return /^(1|yes|y|true|x)$/i.test(cell) ? 'Cancelled in the sending system' : cell;
}

function defined(value: Record<string, unknown>): Record<string, unknown> {
  return Object.fromEntries(Object.entries(value).filter(([, inner]) => inner !== undefined));
}
