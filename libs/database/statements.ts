/**
 * Splits an SQL script at the semicolons that end statements, not at those inside strings ('…', E'…' with backslashes), quoted names,
 * dollar-quoted bodies, line comments or (nesting) block comments. Lexical rules: PostgreSQL manual, section 4.1.
 * Comments stay with the statement they precede; a tail of comments and blanks only is no statement.
 * Limit: an SQL-standard function body (BEGIN ATOMIC … END) holds bare semicolons and would be split.
 */
export function splitStatements(script: string): string[] {
  const statements: string[] = [];
  let start = 0;
  let hasCode = false;
  let at = 0;
  const end = (): void => {
    const text = script.slice(start, at).trim();
    if (hasCode) statements.push(text);
    start = at + 1;
    hasCode = false;
  };
  while (at < script.length) {
    const comment = commentEnd(script, at);
    if (comment !== null) {
      at = comment;
      continue;
    }
    const character = script[at]!;
    if (character === ';') {
      end();
      at += 1;
      continue;
    }
    if (!/\s/.test(character)) hasCode = true;
    at = quoteEnd(script, at) ?? at + 1;
  }
  end();
  return statements;
}

function commentEnd(script: string, at: number): number | null {
  if (script.startsWith('--', at)) {
    const newline = script.indexOf('\n', at);
    return newline < 0 ? script.length : newline + 1;
  }
  if (!script.startsWith('/*', at)) return null;
  let depth = 1;
  let position = at + 2;
  while (depth > 0) {
    if (position >= script.length) throw new SyntaxError('a block comment is not closed');
    if (script.startsWith('/*', position)) depth += 1;
    else if (script.startsWith('*/', position)) depth -= 1;
    else {
      position += 1;
      continue;
    }
    position += 2;
  }
  return position;
}

const WORD = /[\p{L}\p{N}_$]/u;

function quoteEnd(script: string, at: number): number | null {
  const character = script[at]!;
  const previous = script[at - 1] ?? ' ';
  if (character === "'") {
    const escapes = /[eE]/.test(previous) && !WORD.test(script[at - 2] ?? ' ');
    return closing(script, at, "'", escapes);
  }
  if (character === '"') return closing(script, at, '"', false);
  if (character === '$' && !WORD.test(previous)) {
    const tag = /^\$(?:[\p{L}_][\p{L}\p{N}_]*)?\$/u.exec(script.slice(at, at + 70))?.[0];
    if (tag === undefined) return null;
    const close = script.indexOf(tag, at + tag.length);
    if (close < 0) throw new SyntaxError(`a body quoted with ${tag} is not closed`);
    return close + tag.length;
  }
  return null;
}

function closing(script: string, at: number, quote: string, escapes: boolean): number {
  for (let position = at + 1; position < script.length; position += 1) {
    if (escapes && script[position] === '\\') position += 1;
    else if (script[position] === quote) {
      if (script[position + 1] !== quote) return position + 1;
      position += 1;
    }
  }
  throw new SyntaxError(`a text quoted with ${quote} is not closed`);
}
