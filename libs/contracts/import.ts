import { z } from 'zod';
import { CaseClosure, NewCase } from './case.js';
import { FaultCode } from './fault.js';
import { Part, ProofMethod, RepairAction, RepairIntent } from './repair.js';
import { Day, finite, Id, Instant, text } from './text.js';

/** A repair as an old order tells it: what the order does not say is left out. */
export const ImportRepair = z
  .strictObject({
    fault: FaultCode,
    action: RepairAction,
    intent: RepairIntent.optional().describe('unknown when left out'),
    day: Day.optional().describe('The day the car came in when left out'),
    parts: z.array(Part).max(60).optional(),
    recoveredG: finite(0, 10_000).optional(),
    chargedG: finite(0, 10_000).optional(),
    labourHours: finite(0, 200).optional(),
    cost: finite(0, 1e6).optional(),
    note: text(1000).optional(),
  })
  .meta({ id: 'ImportRepair' });
export type ImportRepair = z.infer<typeof ImportRepair>;

export const ImportProof = z
  .strictObject({ faults: z.array(FaultCode).min(1).max(6), method: ProofMethod, note: text(1000).optional() })
  .meta({ id: 'ImportProof' });
export type ImportProof = z.infer<typeof ImportProof>;

/** One line of a file: a case, with what was found, done and decided on it. */
export const ImportLine = NewCase.extend({
  repairs: z.array(ImportRepair).max(40).optional(),
  proofs: z.array(ImportProof).max(20).optional(),
  closure: CaseClosure.optional(),
  voided: text(500).optional().describe('The order was cancelled: why. The case is taken out of every count'),
}).meta({ id: 'ImportLine', description: 'One line of an NDJSON file: a case with its repairs and proofs.' });
export type ImportLine = z.infer<typeof ImportLine>;

/** Where in a case the value of a column belongs. */
export const CSV_FIELDS = [
  'shop_code',
  'system',
  'reference',
  'revision',
  'link',
  'vin',
  'plate',
  'platform_code',
  'model_year',
  'odometer',
  'odometer_unit',
  'opened_at',
  'complaint',
  'complaint_text',
  'notes',
  'voided',
  'outside_air',
  'relative_humidity',
  'temperature_unit',
  'pressure_unit',
  'pressure_reference',
  'low_side_pressure',
  'high_side_pressure',
  'rest_low_side_pressure',
  'rest_high_side_pressure',
  'outlet_air',
  'proved_fault',
  'proof_method',
  'repair_fault',
  'repair_action',
  'repair_intent',
  'repair_day',
  'repair_part',
  'recovered_g',
  'charged_g',
  'labour_hours',
  'cost',
  'line_text',
] as const;
export const CsvField = z.enum(CSV_FIELDS).meta({ id: 'CsvField' });
export type CsvField = z.infer<typeof CsvField>;

export const ColumnRule = z
  .strictObject({
    column: text(200).describe('Heading in the file; compared without case and outer blanks'),
    field: CsvField,
    unit: text(24).optional().describe('UCUM code of the values in this column'),
  })
  .meta({ id: 'ColumnRule' });
export const ConstantRule = z.strictObject({ field: CsvField, value: text(500) }).meta({ id: 'ConstantRule' });
export const ValueRule = z
  .strictObject({ field: CsvField, from: text(200), to: text(500) })
  .meta({ id: 'ValueRule', description: "The file's word for one of ours; compared without case and outer blanks." });
export const LineRule = z
  .strictObject({
    contains: text(80).describe('Found anywhere in the text of a labour or part line, without case'),
    action: RepairAction,
    fault: FaultCode,
    intent: RepairIntent.optional(),
  })
  .meta({ id: 'LineRule', description: 'Turns a labour or part line into a repair. The first rule that fits counts.' });

/** How a delimited file becomes cases. Headings that are field names need no rule. */
export const ImportMapping = z
  .strictObject({
    columns: z.array(ColumnRule).max(120).optional(),
    constants: z.array(ConstantRule).max(40).optional(),
    values: z.array(ValueRule).max(400).optional(),
    lines: z.array(LineRule).max(200).optional(),
    delimiter: z.enum([',', ';', 'tab', '|']).meta({ id: 'Delimiter' }).optional().describe('Found from the heading when left out'),
    decimal: z
      .enum(['point', 'comma'])
      .meta({ id: 'DecimalMark' })
      .optional()
      .describe('Both are understood when left out, where it is clear'),
    dates: z
      .enum(['year-month-day', 'day-month-year', 'month-day-year'])
      .meta({ id: 'DateOrder' })
      .optional()
      .describe("Order of dates that are not RFC 3339; they are read in the shop's time zone"),
    ignoreUnknownColumns: z.boolean().optional().describe('Otherwise an unknown heading refuses the file'),
    revisionFromRow: z.boolean().optional().describe('A changed row without a revision of its own replaces the stored order'),
  })
  .meta({ id: 'ImportMapping' });
export type ImportMapping = z.infer<typeof ImportMapping>;

export const NewSavedMapping = z.strictObject({ name: text(60), mapping: ImportMapping }).meta({ id: 'NewSavedMapping' });
export type NewSavedMapping = z.infer<typeof NewSavedMapping>;
export const SavedMapping = z
  .strictObject({ id: Id, version: z.int(), name: z.string(), mapping: ImportMapping, createdAt: Instant, updatedAt: Instant })
  .meta({ id: 'SavedMapping' });
export type SavedMapping = z.infer<typeof SavedMapping>;

const flag = z.enum(['true', 'false']).optional();
/** What accompanies a file. In the address, because the body is the file itself. */
export const ImportQuery = z.strictObject({
  mapping: text(60).optional().describe('Name of a saved mapping (CSV)'),
  dryRun: flag.describe('true: judge every row, store nothing'),
  backfill: flag.describe('true: history; no events are raised'),
  shopCode: text(60).optional().describe('Shop of rows that name none'),
  system: text(60).optional().describe('Sending system of rows that name none'),
});
export type ImportQuery = z.infer<typeof ImportQuery>;

export const ImportState = z.enum(['receiving', 'waiting', 'running', 'done', 'failed']).meta({ id: 'ImportState' });
export const ImportFormat = z.enum(['ndjson', 'csv']).meta({ id: 'ImportFormat' });
export type ImportFormat = z.infer<typeof ImportFormat>;

export const ImportRun = z
  .strictObject({
    id: Id,
    state: ImportState,
    format: ImportFormat,
    dryRun: z.boolean(),
    backfill: z.boolean(),
    mapping: z.string().nullable(),
    columns: z.array(z.string()).describe('Headings of the file, in order; empty for NDJSON'),
    received: z.int().describe('Rows in the file'),
    done: z.int(),
    opened: z.int(),
    revised: z.int(),
    unchanged: z.int(),
    rejected: z.int().describe('Rejected and not yet corrected'),
    detail: z.string().nullable(),
    createdAt: Instant,
    updatedAt: Instant,
  })
  .meta({ id: 'ImportRun' });
export type ImportRun = z.infer<typeof ImportRun>;

export const RowOutcome = z.enum(['opened', 'revised', 'unchanged', 'rejected']).meta({ id: 'RowOutcome' });
export type RowOutcome = z.infer<typeof RowOutcome>;
export const RowProblem = z
  .strictObject({
    pointer: z.string().describe('JSON pointer into the case'),
    column: z.string().nullable().describe('Heading of the column it came from'),
    code: z.string(),
    detail: z.string(),
    remedy: z.string().nullable(),
  })
  .meta({ id: 'RowProblem' });
export type RowProblem = z.infer<typeof RowProblem>;
export const ImportRow = z
  .strictObject({
    line: z.int().describe('Line of the file, the first is 1'),
    reference: z.string().nullable(),
    outcome: RowOutcome,
    caseId: Id.nullable(),
    problems: z.array(RowProblem),
    corrected: z.boolean(),
  })
  .meta({ id: 'ImportRow', description: 'What became of one row.' });
export type ImportRow = z.infer<typeof ImportRow>;

/** The same row, right this time: as a case, or as cells that replace those of the row. Without either, the row is tried again as it was. */
export const RowCorrection = z
  .strictObject({
    case: ImportLine.optional(),
    cells: z
      .array(z.strictObject({ column: text(200), value: z.string().max(4000) }).meta({ id: 'CellCorrection' }))
      .max(120)
      .optional(),
  })
  .meta({ id: 'RowCorrection' });
export type RowCorrection = z.infer<typeof RowCorrection>;

export const RowFilter = z.strictObject({ outcome: RowOutcome.optional() }).meta({ id: 'RowFilter' });
export type RowFilter = z.infer<typeof RowFilter>;
export const LineNumber = z.coerce.number().int().min(1).max(2_000_000_000);
export const ImportRunPage = z.strictObject({ data: z.array(ImportRun), next: z.string().nullable() }).meta({ id: 'ImportRunPage' });
export const ImportRowPage = z.strictObject({ data: z.array(ImportRow), next: z.string().nullable() }).meta({ id: 'ImportRowPage' });
export type ImportRowPage = z.infer<typeof ImportRowPage>;
export const SavedMappingList = z.strictObject({ data: z.array(SavedMapping) }).meta({ id: 'SavedMappingList' });
