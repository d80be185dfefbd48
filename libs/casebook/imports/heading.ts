import { CSV_FIELDS, type CsvField, type ImportMapping, type ProblemIssue } from '#libs/contracts/index.js';
import { nearest } from '#libs/units/index.js';

/** What each column of a file is for: by the mapping, else by its own heading. */
export interface ColumnUse {
  readonly heading: string;
  readonly field: CsvField | null;
  readonly unit: string | null;
}

const plain = (heading: string) => heading.trim().toLowerCase();
const asField = (heading: string) => plain(heading).replace(/[\s-]+/g, '_');
const isField = (name: string): name is CsvField => (CSV_FIELDS as readonly string[]).includes(name);

/** Reads a heading. Issues name every column that is unknown, doubled, or wanted by the mapping and not there. */
export function readHeading(headings: readonly string[], mapping: ImportMapping): { uses: ColumnUse[]; issues: ProblemIssue[] } {
  const issues: ProblemIssue[] = [];
  const rules = new Map((mapping.columns ?? []).map((rule) => [plain(rule.column), rule]));
  const seen = new Set<string>();
  const uses = headings.map((heading, i): ColumnUse => {
    const rule = rules.get(plain(heading));
    if (plain(heading) !== '' && seen.has(plain(heading))) {
      issues.push({
        pointer: `/columns/${i}`,
        code: 'imports/column_doubled',
        detail: `The heading "${heading}" appears twice.`,
        remedy: 'Give each column a heading of its own.',
      });
    }
    seen.add(plain(heading));
    if (rule) return { heading, field: rule.field, unit: rule.unit ?? null };
    const field = asField(heading);
    if (isField(field)) return { heading, field, unit: null };
    if (plain(heading) !== '' && mapping.ignoreUnknownColumns !== true) {
      const meant = nearest(field, [...CSV_FIELDS]);
      issues.push({
        pointer: `/columns/${i}`,
        code: 'imports/column_unknown',
        detail: `Nobody knows what the column "${heading}" is for.`,
        remedy: `${meant ? `Did you mean "${meant}"? ` : ''}Map it to a field, or set ignoreUnknownColumns in the mapping.`,
      });
    }
    return { heading, field: null, unit: null };
  });
  for (const rule of mapping.columns ?? []) {
    if (seen.has(plain(rule.column))) continue;
    const meant = nearest(rule.column, [...headings]);
    issues.push({
      pointer: `/columns`,
      code: 'imports/column_missing',
      detail: `The mapping wants a column "${rule.column}", and the file has none.`,
      remedy: meant ? `Did you mean "${meant}"?` : `The file has: ${headings.slice(0, 30).join(', ')}.`,
    });
  }
  if (uses.every((use) => use.field === null)) {
    issues.push({
      pointer: '/columns',
      code: 'imports/no_columns',
      detail: 'No column of the file has a meaning.',
      remedy: 'The first line must hold headings. Take the template at /v1/imports/template.csv, or save a mapping.',
    });
  }
  return { uses, issues };
}
