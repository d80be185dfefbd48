import { readFileSync } from 'node:fs';
import ts from 'typescript';

/** One SQL text as the program can send it. A statement with alternatives gives one of these for each. */
export interface FoundStatement {
  readonly file: string;
  readonly line: number;
  readonly names: readonly string[];
  readonly texts: readonly string[];
}

const MANY = 64;

interface Reading {
  readonly source: ts.SourceFile;
  /** Literals some statement is made of. */
  readonly used: Set<ts.Node>;
}

/** All texts an expression can be, as far as the file alone tells: constants are followed, alternatives are kept apart, the rest is blank. */
function textsOf(expression: ts.Expression, reading: Reading, depth = 0): string[] {
  if (depth > 12) return [''];
  const follow = (next: ts.Expression) => textsOf(next, reading, depth + 1);
  if (ts.isStringLiteralLike(expression)) {
    reading.used.add(expression);
    return [expression.text];
  }
  if (ts.isParenthesizedExpression(expression) || ts.isAsExpression(expression)) return follow(expression.expression);
  if (ts.isConditionalExpression(expression)) return [...follow(expression.whenTrue), ...follow(expression.whenFalse)];
  if (ts.isTemplateExpression(expression)) {
    reading.used.add(expression);
    return expression.templateSpans.reduce<string[]>(
      (heads, span) => heads.flatMap((head) => follow(span.expression).map((tail) => head + tail + span.literal.text)).slice(0, MANY),
      [expression.head.text],
    );
  }
  if (ts.isBinaryExpression(expression) && expression.operatorToken.kind === ts.SyntaxKind.PlusToken) {
    return follow(expression.left).flatMap((left) => follow(expression.right).map((right) => left + right));
  }
  if (ts.isArrayLiteralExpression(expression)) {
    return expression.elements.reduce<string[]>(
      (heads, element) => heads.flatMap((head) => follow(element).map((tail) => `${head} ${tail}`)),
      [''],
    );
  }
  // `conditions.join(' and ')`
  if (
    ts.isCallExpression(expression) &&
    ts.isPropertyAccessExpression(expression.expression) &&
    expression.expression.name.text === 'join'
  ) {
    return follow(expression.expression.expression);
  }
  // `group.where`, where `const group = groupOf(…)` and that function of the file returns `{ where: … }`
  if (ts.isPropertyAccessExpression(expression) && ts.isIdentifier(expression.expression)) {
    const made = nearest(expression.expression, reading.source);
    const part = made !== null && ts.isCallExpression(made) ? returned(made, expression.name.text, reading.source) : null;
    return part === null ? [''] : follow(part);
  }
  if (ts.isIdentifier(expression)) {
    const initializer = nearest(expression, reading.source);
    return initializer === null ? [''] : follow(initializer);
  }
  return [''];
}

function returned(call: ts.CallExpression, name: string, source: ts.SourceFile): ts.Expression | null {
  for (const declared of source.statements) {
    if (!ts.isFunctionDeclaration(declared) || declared.name?.text !== call.expression.getText()) continue;
    for (const statement of declared.body?.statements ?? []) {
      if (ts.isReturnStatement(statement) && statement.expression && ts.isObjectLiteralExpression(statement.expression)) {
        return property(statement.expression, name);
      }
    }
  }
  return null;
}

/** What a name is first set to, in the innermost scope that declares it. */
function nearest(identifier: ts.Identifier, source: ts.SourceFile): ts.Expression | null {
  for (let scope: ts.Node = identifier; ; scope = scope.parent) {
    let found: ts.Expression | null = null;
    ts.forEachChild(scope, (child) => {
      if (!ts.isVariableStatement(child)) return;
      for (const { name, initializer } of child.declarationList.declarations) {
        if (ts.isIdentifier(name) && name.text === identifier.text && initializer) found = initializer;
      }
    });
    if (found !== null) return found;
    if (scope === source) return null;
  }
}

const property = (literal: ts.ObjectLiteralExpression, name: string): ts.Expression | null => {
  for (const one of literal.properties) {
    if (ts.isPropertyAssignment(one) && one.name.getText() === name) return one.initializer;
    if (ts.isShorthandPropertyAssignment(one) && one.name.text === name) return one.name;
  }
  return null;
};

/** Every object with a name and a text that is handed to `query`, and every other literal of the file that reads like SQL. */
export function statementsIn(file: string, content = readFileSync(file, 'utf8')): { statements: FoundStatement[]; stray: string[] } {
  const source = ts.createSourceFile(file, content, ts.ScriptTarget.ES2022, true);
  const statements: FoundStatement[] = [];
  const reading: Reading = { source, used: new Set() };
  const literals: { node: ts.Node; text: string }[] = [];
  const visit = (node: ts.Node): void => {
    if (ts.isCallExpression(node) && ts.isPropertyAccessExpression(node.expression) && node.expression.name.text === 'query') {
      const [argument] = node.arguments;
      const text = argument && ts.isObjectLiteralExpression(argument) ? property(argument, 'text') : null;
      if (argument && ts.isObjectLiteralExpression(argument) && text !== null) {
        const name = property(argument, 'name');
        statements.push({
          file,
          line: source.getLineAndCharacterOfPosition(node.getStart()).line + 1,
          names: name === null ? [] : textsOf(name, reading),
          texts: textsOf(text, reading),
        });
      }
    }
    if (ts.isStringLiteralLike(node)) literals.push({ node, text: node.text });
    else if (ts.isTemplateExpression(node)) literals.push({ node, text: node.head.text });
    ts.forEachChild(node, visit);
  };
  visit(source);
  const isSql = /^\s*(select|insert\s+into|update|delete\s+from|with)\s/i;
  const stray = literals.filter(({ node, text }) => isSql.test(text) && !reading.used.has(node)).map(({ text }) => text);
  return { statements, stray };
}

const withoutComments = (sql: string): string =>
  sql
    .replace(/--[^\n]*/g, ' ')
    .replace(/\/\*[\s\S]*?\*\//g, ' ')
    .replace(/\s+/g, ' ');
const KEYWORDS = new Set([
  'where',
  'set',
  'join',
  'left',
  'right',
  'inner',
  'full',
  'cross',
  'on',
  'order',
  'group',
  'limit',
  'for',
  'using',
  'values',
  'union',
  'as',
  'returning',
  'lateral',
  'having',
  'select',
  'fetch',
  'offset',
  'natural',
  'tablesample',
  'window',
  'and',
  'or',
]);

/**
 * What is wrong with a statement. Each tenant table it names must be tied to the organisation: an insert puts $1 into org_id, its first
 * column; every other mention has `org_id = $1` or joins its org_id to another's. And what a distributed server refuses is refused here.
 */
export function faultsOf(text: string, tenantTables: readonly string[]): string[] {
  const sql = withoutComments(text);
  const faults: string[] = [];
  const mention = /\b(from|join|into|update|,)\s+(?:only\s+)?"?(\w+)"?(?:\s+(?:as\s+)?"?([a-z_]\w*)"?)?/gi;
  let plainMentions = 0;
  for (const match of sql.matchAll(mention)) {
    const [, verb, table, next] = match as unknown as [string, string, string, string | undefined];
    if (!tenantTables.includes(table.toLowerCase())) continue;
    if (verb === ',') {
      // A comma also stands between columns: only one in a FROM list names a table, and there an alias or the end follows.
      if (
        !/\bfrom\s[^()]*$/i.test(sql.slice(0, match.index)) ||
        /\b(where|set|select|order by|group by)\b[^()]*$/i.test(sql.slice(sql.lastIndexOf('from', match.index), match.index))
      )
        continue;
    }
    if (verb.toLowerCase() === 'into') {
      const columns = sql.slice(match.index).match(/\(\s*"?(\w+)"?/)?.[1];
      if (columns !== 'org_id') faults.push(`insert into ${table}: org_id is not its first column`);
      else if (!/\)\s*(?:values\s*\(\s*|select\s+)\$1\b/i.test(sql.slice(match.index)))
        faults.push(`insert into ${table}: org_id is not $1`);
      continue;
    }
    const alias = next !== undefined && !KEYWORDS.has(next.toLowerCase()) ? next : null;
    if (alias === null) {
      plainMentions += 1;
      const own = new RegExp(`\\b${table}\\.org_id = |= ${table}\\.org_id\\b`, 'i');
      const plain = sql.match(/(?<![.\w])org_id = \$1\b/g)?.length ?? 0;
      if (!own.test(sql) && plain < plainMentions) faults.push(`${table}: no org_id = $1`);
    } else if (!new RegExp(`\\b${alias}\\.org_id = (\\$1\\b|\\w+\\.org_id)|\\b\\w+\\.org_id = ${alias}\\.org_id\\b`, 'i').test(sql)) {
      if (!(/(?<![.\w])org_id = \$1\b/.test(sql) && sql.match(mention)!.length === 1))
        faults.push(`${table} ${alias}: its org_id is tied to nothing`);
    }
  }
  const names = tenantTables.filter((table) => new RegExp(`\\b(from|join|update)\\s+"?${table}"?\\b`, 'i').test(sql));
  if (names.length > 0 && !/\borg_id = \$1\b/.test(sql)) faults.push(`${names.join(', ')}: nothing says org_id = $1`);
  if (/\bset_config\s*\(/i.test(sql)) faults.push('set_config does not reach distributed servers');
  // What the planner may do, until the transaction ends, is the one thing a statement may set.
  if (/^\s*set\s/i.test(sql) && !/^\s*set\s+local\s+enable_[a-z]+\s*=\s*(on|off)\s*$/i.test(sql))
    faults.push('a session setting outlives its transaction, and one of the tenant is not to be changed');
  if (/\bupdate\b[\s\S]*\b(random|gen_random_uuid|clock_timestamp|nextval|timeofday)\s*\(/i.test(sql))
    faults.push('a volatile function in an update');
  if (/\bon conflict\b[\s\S]*\b(now|random|gen_random_uuid|clock_timestamp|nextval)\s*\(/i.test(sql))
    faults.push('a volatile function on conflict');
  if (/\b(like|ilike|similar to)\b|@@|@>|<->/i.test(sql.replace(/'[^']*'/g, '')))
    faults.push('an operator that row-level security keeps from using an index');
  return faults;
}
