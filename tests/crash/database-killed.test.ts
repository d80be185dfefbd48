import { setTimeout as sleep } from 'node:timers/promises';
import { afterAll, beforeAll, expect, it } from '@jest/globals';
import { expectWhole, pushAll, type Served, serve } from './served.js';

const KILLS = Math.ceil(Number(process.env['COOLBACK_CRASH_KILLS'] ?? 20) / 2);
let served: Served;
beforeAll(async () => {
  served = await serve();
});
afterAll(() => served?.close());

const isReady = async (): Promise<boolean> => {
  try {
    return (await fetch(`${served.url}/readyz`, { signal: AbortSignal.timeout(5_000) })).ok;
  } catch {
    return false;
  }
};

it(`kill -9 of the database server, ${KILLS} times in the middle of pushing: the API stays up and comes back, nothing lost, nothing doubled`, async () => {
  let over = false;
  const pushing = pushAll(served, 4, () => over);
  const pid = served.process().pid;
  const outages: number[] = [];
  for (let kill = 0; kill < KILLS; kill++) {
    await sleep(100 + Math.random() * 500);
    const before = served.postmaster();
    process.kill(before, 'SIGKILL');
    const began = performance.now();
    // The pid file names the new server once it is there; until then it names the dead one, or is missing.
    const isNew = () => {
      try {
        return served.postmaster() !== before;
      } catch {
        return false;
      }
    };
    while (!(isNew() && (await isReady()))) {
      if (performance.now() - began > 60_000) throw new Error('the database did not come back within a minute');
      await sleep(50);
    }
    outages.push(performance.now() - began);
  }
  await sleep(300);
  over = true;
  const pushed = await pushing;
  const worst = Math.max(...outages);
  console.log(
    `${pushed.cases.size} orders, ${pushed.repeated} repeated, ${pushed.replayed} answers given again, ${KILLS} kills, longest outage ${worst.toFixed(0)} ms`,
  );
  expect(await expectWhole(served, pushed)).toEqual([]);
  expect(pushed.cases.size).toBeGreaterThan(KILLS);
  expect(served.process().pid).toBe(pid);
  expect(served.process().exitCode).toBeNull();
}, 300_000);
