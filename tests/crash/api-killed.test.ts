import { setTimeout as sleep } from 'node:timers/promises';
import { afterAll, beforeAll, expect, it } from '@jest/globals';
import { expectWhole, pushAll, type Served, serve } from './served.js';

const KILLS = Number(process.env['COOLBACK_CRASH_KILLS'] ?? 20);
let served: Served;
beforeAll(async () => {
  served = await serve();
});
afterAll(() => served?.close());

it(`kill -9 of the API, ${KILLS} times in the middle of pushing: nothing lost, nothing doubled`, async () => {
  let over = false;
  const pushing = pushAll(served, 4, () => over);
  for (let kill = 0; kill < KILLS; kill++) {
    // Anywhere in a request.
    await sleep(Math.random() * 400);
    await served.killAndRestart();
  }
  await sleep(300);
  over = true;
  const pushed = await pushing;
  console.log(`${pushed.cases.size} orders, ${pushed.repeated} repeated, ${pushed.replayed} answers given again, ${KILLS} kills`);
  expect(await expectWhole(served, pushed)).toEqual([]);
  expect(pushed.cases.size).toBeGreaterThan(KILLS);
  expect(pushed.repeated).toBeGreaterThan(KILLS / 2);
}, 300_000);
