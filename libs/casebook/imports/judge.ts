import { createHmac } from 'node:crypto';
import { DomainError, ImportLine, type ProblemIssue, type RowProblem } from '#libs/contracts/index.js';
import { nearest } from '#libs/units/index.js';
import { fingerprint } from '../cases/fingerprint.js';
import { InvalidInput, parseInput } from '../invalid.errors.js';
import { parseIJson } from '../requests/i-json.js';
import { readCsvCase } from './csv-case.js';
import type { Entry } from './entries.js';
import type { ColumnUse } from './heading.js';
import type { ImportOptions } from './imports.queries.js';

/** What rows are judged with; the same for a whole import. */
export interface Judging {
  readonly options: ImportOptions;
  readonly uses: readonly ColumnUse[];
  /** Shops this credential may use, by code. */
  readonly zones: ReadonlyMap<string, string>;
  /** Key of the references that rows without an order number get. */
  readonly referenceKey: Buffer;
}

export type Judged =
  | {
      readonly ok: true;
      readonly line: ImportLine;
      readonly hasOwnRevision: boolean;
      readonly columnOf: (pointer: string) => string | null;
    }
  | { readonly ok: false; readonly reference: string | null; readonly problems: readonly RowProblem[] };

/** A row as a case with everything on it, or every reason why it cannot be one. */
export function judgeEntry(entry: Entry, judging: Judging): Judged {
  if (entry.fault) return { ok: false, reference: null, problems: [faultOf(entry.fault)] };
  if (typeof entry.raw !== 'string') return judgeRecords(entry.raw, judging);
  try {
    return judgeValue(parseIJson(entry.raw), judging);
  } catch (error) {
    return { ok: false, reference: null, problems: problemsOf(error, () => null, judging) };
  }
}

export function judgeRecords(records: readonly (readonly string[])[], judging: Judging): Judged {
  const zoneOf = (code: string | undefined) => judging.zones.get(code ?? judging.options.shopCode ?? '') ?? soleZone(judging) ?? 'UTC';
  const read = readCsvCase(records, judging.uses, judging.options.mapping, zoneOf);
  if (Object.keys(read.value).length === 0 && read.problems.length > 0) return { ok: false, reference: null, problems: read.problems };
  const judged = judgeValue(read.value, judging, read.columnOf);
  if (read.problems.length === 0) return judged;
  return {
    ok: false,
    reference: judged.ok ? (judged.line.source?.reference ?? null) : judged.reference,
    problems: [...read.problems, ...(judged.ok ? [] : judged.problems)],
  };
}

/** The value of a line with what the import itself says filled in: shop, sending system, reference. */
export function judgeValue(value: unknown, judging: Judging, columnOf: (pointer: string) => string | null = () => null): Judged {
  const { options } = judging;
  const given = isObject(value) ? value : null;
  const source = given && isObject(given['source']) ? given['source'] : null;
  const reference = typeof source?.['reference'] === 'string' ? source['reference'] : null;
  const system = options.system ?? 'file';
  const completed = given
    ? {
        ...given,
        ...(given['shopId'] === undefined && given['shopCode'] === undefined && options.shopCode !== null
          ? { shopCode: options.shopCode }
          : {}),
        ...(options.backfill ? { backfill: true } : {}),
        source:
          given['source'] === undefined
            ? {
                system,
                reference: `row-${createHmac('sha256', judging.referenceKey).update(fingerprint(given)).digest('hex').slice(0, 32)}`,
                revision: 1,
              }
            : source
              ? { system, revision: 1, ...source }
              : given['source'],
      }
    : value;
  try {
    return { ok: true, line: parseInput(ImportLine, completed), hasOwnRevision: source?.['revision'] !== undefined, columnOf };
  } catch (error) {
    return { ok: false, reference, problems: problemsOf(error, columnOf, judging) };
  }
}

/** A refusal as problems of a row; whatever is not a refusal goes on. */
export function problemsOf(error: unknown, columnOf: (pointer: string) => string | null, judging: Pick<Judging, 'zones'>): RowProblem[] {
  if (!(error instanceof DomainError) || error.kind === 'unavailable') throw error;
  const issues: readonly ProblemIssue[] =
    error.issues.length > 0 ? error.issues : [{ pointer: '', code: error.code, detail: error.message, remedy: null }];
  return issues.slice(0, 40).map((issue) => ({
    pointer: issue.pointer,
    column: columnOf(issue.pointer),
    code: issue.code,
    detail: error instanceof InvalidInput || error.issues.length > 0 ? issue.detail : error.message,
    remedy: issue.pointer === '/shopCode' ? shopRemedy(issue, judging) : issue.remedy,
  }));
}

function shopRemedy(issue: ProblemIssue, { zones }: Pick<Judging, 'zones'>): string | null {
  const codes = [...zones.keys()];
  const named = /"([^"]+)"/.exec(issue.detail);
  const meant = nearest(named?.[1] ?? '', codes);
  const list = codes.length > 0 ? `Your shops: ${codes.slice(0, 20).join(', ')}.` : issue.remedy;
  return meant ? `Did you mean "${meant}"? ${list}` : list;
}

function faultOf(fault: NonNullable<Entry['fault']>): RowProblem {
  return fault === 'too-long'
    ? {
        pointer: '',
        column: null,
        code: 'imports/line_too_long',
        detail: 'The line is longer than 1 MiB.',
        remedy: 'Send thermal maps and traces with the case itself, or leave them out.',
      }
    : {
        pointer: '',
        column: null,
        code: 'imports/encoding',
        detail: 'The line holds bytes that are not UTF-8.',
        remedy: 'Save the file as UTF-8.',
      };
}

const soleZone = ({ zones }: Judging): string | undefined => (zones.size === 1 ? zones.values().next().value : undefined);
const isObject = (value: unknown): value is Record<string, unknown> => typeof value === 'object' && value !== null && !Array.isArray(value);
