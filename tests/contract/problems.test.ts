import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from '@jest/globals';
import { PROBLEMS, problemIndex, problemPage, slugOf } from '#apps/api/docs/problem-pages.js';
import { asDomainError, toProblem } from '#apps/api/http/problem.js';
import { STATUS_OF_KIND } from '#libs/contracts/index.js';
import { ROOT } from './documents.js';

interface Declared {
  readonly name: string;
  readonly code: string;
  readonly kind: keyof typeof STATUS_OF_KIND;
}

function sources(): string[] {
  return ['apps', 'libs'].flatMap((folder) =>
    readdirSync(join(ROOT, folder), { recursive: true, encoding: 'utf8' })
      .filter((name) => name.endsWith('.ts') && !name.endsWith('.test.ts') && !name.startsWith('console'))
      .map((name) => readFileSync(join(ROOT, folder, name), 'utf8')),
  );
}

/** Every class of refusal in the sources: its code is a literal, or one for each reason why the database cannot serve. */
function declared(texts: readonly string[]): Declared[] {
  const whole = texts.join('\n');
  const reasons = [
    ...(/UnavailableReason =([^;]+);/.exec(whole)?.[1]?.matchAll(/'([a-z-]+)'/g) ?? []),
    ...whole.matchAll(/new ServiceUnavailable\('([a-z-]+)'/g),
  ].map(([, reason]) => reason!);
  return [...whole.matchAll(/class (\w+) extends DomainError \{([\s\S]*?)\n\}/g)].flatMap(([, name, body]) => {
    const kind = /readonly kind = '(\w+)' as const/.exec(body!)?.[1] as Declared['kind'];
    const code = /readonly code = '([a-z]+\/[a-z_]+)'/.exec(body!)?.[1];
    if (code !== undefined) return [{ name: name!, code, kind }];
    if (name !== 'ServiceUnavailable') throw new Error(`${name} has no literal code: teach this test how it is made`);
    return [...new Set(reasons)].map((reason) => ({ name, code: `service/${reason.replaceAll('-', '_')}`, kind }));
  });
}

/** Codes that answers carry without a class: a bug of ours, and what GraphQL refuses before a resolver runs. */
const WITHOUT_CLASS = ['internal', 'graphql/invalid'];
const all = declared(sources());

describe('pages of problems', () => {
  it('stand for every code, and no page for a code that nobody answers', () => {
    expect(all.length).toBeGreaterThan(30);
    const codes = [...new Set([...all.map(({ code }) => code), ...WITHOUT_CLASS])];
    expect(PROBLEMS.map(({ code }) => code).sort()).toEqual(codes.sort());
  });

  it('name the status the answer has', () => {
    const statuses = new Map(PROBLEMS.map(({ code, status }) => [code, status]));
    for (const { name, code, kind } of all) expect([name, statuses.get(code)]).toEqual([name, STATUS_OF_KIND[kind]]);
  });

  it('are where the type of a problem points', () => {
    for (const { code, meaning, remedy } of PROBLEMS) {
      const page = problemPage(slugOf(code));
      expect(page).toContain(code);
      expect(meaning.length).toBeGreaterThan(5);
      expect(remedy.length).toBeGreaterThan(5);
      expect(problemIndex()).toContain(`/problems/${slugOf(code)}`);
    }
    expect(new Set(PROBLEMS.map(({ code }) => slugOf(code))).size).toBe(PROBLEMS.length);
    expect(problemPage('no-such-problem')).toBeNull();
  });

  it('are found from an answer: a refusal of the driver and a bug', () => {
    const request = { url: '/v1/cases?first=3', id: 'abc' };
    const lost = toProblem(asDomainError(Object.assign(new Error('connect'), { code: 'ECONNREFUSED' }), 1), request);
    expect(lost).toMatchObject({ type: '/problems/service-connection-lost', status: 503, instance: '/v1/cases', retryable: true });
    const bug = toProblem(asDomainError(new TypeError('x is not a function'), 1), request);
    expect(bug).toMatchObject({ type: '/problems/internal', status: 500 });
    for (const { type } of [lost, bug]) expect(problemPage(type.replace('/problems/', ''))).not.toBeNull();
  });
});
