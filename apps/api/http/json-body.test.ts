import { describe, expect, it } from '@jest/globals';
import fc from 'fast-check';
import { parseJsonBody } from './json-body.js';

const parse = (text: string) => parseJsonBody(Buffer.from(text));

describe('request bodies', () => {
  it('give what JSON.parse gives for every proper value', () => {
    fc.assert(
      fc.property(fc.jsonValue({ maxDepth: 6 }), (value) => {
        const text = JSON.stringify(value);
        expect(parse(text)).toEqual(JSON.parse(text));
      }),
      { numRuns: 300 },
    );
  });

  it.each([
    ['a name twice', '{"a":{"b":1,"b":2}}', '/a/b'],
    ['a name twice in another spelling', '{"a":1,"\\u0061":2}', '/a'],
    ['a lone surrogate', '{"a":["\\udc00"]}', '/a/0'],
    ['a number beyond a double', '{"a":[1,-1e999]}', '/a/1'],
  ])('are refused with the place for %s', (_what, text, pointer) => {
    let issues: readonly { pointer: string }[] = [];
    try {
      parse(text);
    } catch (error) {
      issues = (error as { issues: { pointer: string }[] }).issues;
    }
    expect(issues[0]?.pointer).toBe(pointer);
  });

  it('do not touch the prototype', () => {
    expect((parse('{"__proto__":{"polluted":true}}') as { polluted?: boolean }).polluted).toBeUndefined();
    expect(({} as { polluted?: boolean }).polluted).toBeUndefined();
  });
});
