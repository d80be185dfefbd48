import { afterAll, beforeAll, expect, it } from '@jest/globals';
import { mutatedBodies, mutatedGraphql, oddNames, oddNumbers } from './bodies.js';
import { mutatedFiles } from './files.js';
import { oddTexts } from './texts.js';
import { type Hostile, hostileWorld, isClean } from './world.js';

/** How many of each; the seed decides which. */
const COUNT = Number(process.env['COOLBACK_FUZZ'] ?? 10_000);
const SEED = Number(process.env['COOLBACK_FUZZ_SEED'] ?? 20_260_601);
/** Part of all pairs of an odd value and a place for it that are tried. */
const SHARE = Number(process.env['COOLBACK_FUZZ_SHARE'] ?? 1);
const LIMIT_MS = 1_800_000;

let hostile: Hostile;
beforeAll(async () => {
  hostile = await hostileWorld();
}, 600_000);
afterAll(() => hostile?.api.close());

it(
  `${COUNT * 0.7} changed bodies of every operation: no fault of the server, no status that is not described`,
  async () => {
    expect(await mutatedBodies(hostile, COUNT * 0.7, SEED)).toEqual([]);
    expect(isClean()).toBe(true);
  },
  LIMIT_MS,
);

it(
  `${COUNT * 0.3} damaged files: refused as a whole, or each row stored or refused with its reason`,
  async () => {
    const { faults, accepted, rows } = await mutatedFiles(hostile, COUNT * 0.3, SEED);
    console.log(`${accepted} of ${COUNT * 0.3} files were taken in, ${rows} rows of them`);
    expect(faults).toEqual([]);
    expect(accepted).toBeGreaterThan(COUNT * 0.1);
  },
  LIMIT_MS,
);

it(
  `${COUNT * 0.3} changed documents and variables of GraphQL: no internal error`,
  async () => {
    expect(await mutatedGraphql(hostile, COUNT * 0.3, SEED)).toEqual([]);
  },
  LIMIT_MS,
);

it(
  'every odd text in every place for text: said again letter by letter, or refused at that place',
  async () => {
    const { faults, asked, taken, silent } = await oddTexts(hostile, SHARE);
    console.log(`${asked} texts, ${taken} taken; places whose answer does not say them again: ${silent.join(', ')}`);
    expect(faults).toEqual([]);
    expect(taken).toBeGreaterThan(asked / 10);
  },
  LIMIT_MS,
);

it(
  'every odd number in every place for a number: exact, or refused',
  async () => {
    const { faults, asked, taken } = await oddNumbers(hostile, SHARE);
    console.log(`${asked} numbers, ${taken} taken`);
    expect(faults).toEqual([]);
  },
  LIMIT_MS,
);

it(
  'names that every object has, and doubled names, are refused and change no object',
  async () => {
    expect(await oddNames(hostile)).toEqual([]);
  },
  LIMIT_MS,
);
