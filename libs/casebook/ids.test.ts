import { expect, it } from '@jest/globals';
import { validate, version } from 'uuid';
import { newId } from './ids.js';

it('identifiers are UUIDs of version 7, all different, in ascending order, of the time they are made at', () => {
  const before = Date.now();
  const ids = Array.from({ length: 20_000 }, newId);
  expect(ids.every((id) => validate(id) && version(id) === 7)).toBe(true);
  expect(new Set(ids).size).toBe(ids.length);
  expect([...ids].sort()).toEqual(ids);
  const time = Number.parseInt(ids[0]!.replace('-', '').slice(0, 12), 16);
  expect(time).toBeGreaterThanOrEqual(before);
  expect(time - before).toBeLessThan(1_000);
});
