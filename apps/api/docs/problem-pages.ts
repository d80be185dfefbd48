import { titleOf } from '../http/problem.js';
import { CASE_PROBLEMS } from './case-problems.js';
import type { ProblemText } from './problem-text.js';
import { REQUEST_PROBLEMS } from './request-problems.js';

export const PROBLEMS: readonly ProblemText[] = [...REQUEST_PROBLEMS, ...CASE_PROBLEMS];

export const slugOf = (code: string) => code.replaceAll('/', '-').replaceAll('_', '-');

const escaped = (text: string) => text.replaceAll('&', '&amp;').replaceAll('<', '&lt;').replaceAll('>', '&gt;').replaceAll('"', '&quot;');

const page = (title: string, body: string) =>
  `<!doctype html><html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1"><title>${escaped(title)} · Coolback</title>
<style>body{font:16px/1.6 system-ui,sans-serif;max-width:44rem;margin:3rem auto;padding:0 1rem;color:#1d2a26;background:#fbfaf6}code{background:#ece8dc;padding:.1em .3em}a{color:#175c4c}</style></head><body><main>${body}</main></body></html>`;

/** The page a problem's `type` points to, or null for a slug that no problem has. */
export function problemPage(slug: string): string | null {
  const problem = PROBLEMS.find((one) => slugOf(one.code) === slug);
  if (!problem) return null;
  return page(
    titleOf(problem.code),
    `<h1>${escaped(titleOf(problem.code))}</h1><p><code>${problem.code}</code> · HTTP ${problem.status}</p><h2>What it means</h2><p>${escaped(problem.meaning)}</p><h2>What to do</h2><p>${escaped(problem.remedy)}</p><p><a href="/problems">All problems</a> · <a href="/docs">API reference</a></p>`,
  );
}

export function problemIndex(): string {
  const rows = PROBLEMS.map(
    (one) => `<li><a href="/problems/${slugOf(one.code)}"><code>${one.code}</code></a> (${one.status}): ${escaped(one.meaning)}</li>`,
  ).join('');
  return page(
    'Problems',
    `<h1>Problems</h1><p>Every refusal of this service is one of these, as a problem document (RFC 9457).</p><ul>${rows}</ul>`,
  );
}
