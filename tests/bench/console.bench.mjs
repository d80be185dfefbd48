// The console in a real browser over a region of COOLBACK_BENCH_CASES cases (COOLBACK_BENCH_REGION names a folder in which it is made once and found again):
// how soon the first page can be used, how soon the board is painted after its answer, and how long each page of the director takes to be whole.
import { fork } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { chromium } from 'playwright-core';
import { HEAP_FLAGS } from '#apps/cli/heap-flags.js';
import { median } from './load.mjs';
import { BENCH_SECRET, CASES, withRegion } from './region.bench.mjs';

const ROUNDS = Number(process.env.COOLBACK_BENCH_ROUNDS ?? 7);
/** Without the pages, which take minutes over a million cases: COOLBACK_BENCH_PAGES=no. */
const WITH_PAGES = process.env.COOLBACK_BENCH_PAGES !== 'no';
const EXECUTABLE = process.env.COOLBACK_CHROMIUM ?? '/usr/bin/chromium';
const PATIENCE_MS = 180_000;
/** What of the director's pages asks for figures of the whole region. */
const PAGES = [
  ['the board', '#/recurrences'],
  ['the board after three months', '#/recurrences?clock=months'],
  ['returns told apart', '#/recurrences/grouped'],
  ['one fault after another', '#/recurrences/patterns'],
  ['what is new', '#/recurrences/watches'],
  ['shops', '#/recurrences/shops'],
  ['evidence', '#/recurrences/records'],
  ['charge', '#/recurrences/charge'],
  ['refrigerant', '#/recurrences/refrigerant'],
  ['stock', '#/recurrences/stock'],
  ['costs', '#/recurrences/costs'],
  ['policies', '#/recurrences/policies'],
  ['the month', '#/recurrences/month'],
  ['repairs', '#/recurrences/repairs?fault=undercharge'],
  ['cases', '#/recurrences/cases?fault=undercharge'],
  ['a line', null],
];
const log = (line) => process.stderr.write(`${line}\n`);

/**
 * Runs in the page before anything of it: notes the first frame in which lines of the board stand, and the first in which the first page's link has the
 * focus. A frame is on the screen when the one after it begins.
 */
function noteFrames() {
  const seen = {};
  const note = (name) => {
    if (seen[name] !== undefined) return;
    seen[name] = null;
    requestAnimationFrame(() => requestAnimationFrame(() => (seen[name] = performance.now())));
  };
  globalThis.benchSeen = seen;
  new MutationObserver(() => {
    if (document.querySelector('table.board tbody td')) note('board');
    if (document.querySelector('main a')) note('link');
  }).observe(document, { childList: true, subtree: true });
}

async function startApi(directory, database) {
  const child = fork(fileURLToPath(new URL('../../dist/apps/api/main.js', import.meta.url)), [], {
    env: {
      ...process.env,
      NODE_ENV: 'production',
      COOLBACK_DATA_DIR: directory,
      DATABASE_URL: database.appUrl,
      COOLBACK_SECRET: BENCH_SECRET.toString('base64'),
      COOLBACK_PORT: '0',
      COOLBACK_LOG: 'error',
      COOLBACK_RATE_PER_MINUTE: '1000000',
    },
    execArgv: [...HEAP_FLAGS],
    stdio: ['ignore', 'ignore', 'inherit', 'ipc'],
  });
  const port = await new Promise((resolve, reject) => {
    child.once('message', (message) => resolve(message.port));
    child.once('exit', (code) => reject(new Error(`the API ended with ${code}`)));
  });
  return { child, url: `http://127.0.0.1:${port}` };
}

/** A tab of a profile that has seen nothing of the console before. */
async function newTab(browser, key) {
  const context = await browser.newContext({ viewport: { width: 1366, height: 768 }, locale: 'en-GB', serviceWorkers: 'block' });
  await context.addInitScript(`sessionStorage.setItem('coolback.key', ${JSON.stringify(key)})`);
  await context.addInitScript(noteFrames);
  const page = await context.newPage();
  page.setDefaultTimeout(PATIENCE_MS);
  return { context, page };
}

const seenAt = async (page, name) => (await page.waitForFunction((what) => globalThis.benchSeen[what], name)).jsonValue();

async function settled(page) {
  await page.locator('main h1').first().waitFor();
  await page.waitForLoadState('networkidle');
  await page.waitForFunction(
    () => ![...document.querySelectorAll('main .state, main .glance p')].some((one) => /Fetching|^…$/.test(one.textContent)),
  );
}

/** What the pages of a tab asked the server for, slowest first. */
const slowest = (page) =>
  page.evaluate(() =>
    performance
      .getEntriesByType('resource')
      .filter(({ name }) => name.includes('/v1/'))
      .map(({ name, duration, decodedBodySize }) => ({ path: new URL(name).pathname, ms: duration, kb: decodedBodySize / 1024 }))
      .sort((a, b) => b.ms - a.ms)
      .slice(0, 2),
  );

async function boardRounds(browser, url, key) {
  const rounds = [];
  for (let i = -1; i < ROUNDS; i++) {
    const { context, page } = await newTab(browser, key);
    await page.goto(`${url}/#/recurrences`);
    const painted = await seenAt(page, 'board');
    const answered = await page.evaluate(
      () => performance.getEntriesByType('resource').find(({ name }) => name.includes('/v1/outcomes/recurrences')).responseEnd,
    );
    // Statements are planned and code is compiled in the first round, which does not count.
    if (i >= 0) rounds.push({ painted, answered, after: painted - answered });
    await context.close();
  }
  return rounds;
}

async function firstViews(browser, url, key) {
  const times = [];
  for (let i = 0; i < ROUNDS; i++) {
    const { context, page } = await newTab(browser, key);
    await page.goto(`${url}/`);
    times.push(await seenAt(page, 'link'));
    await context.close();
  }
  return times;
}

export async function runConsoleBench() {
  return withRegion(async ({ directory, database, casebook, actor }) => {
    const { secret } = await casebook.access.issueKey(actor, { name: 'Bench', role: 'director', shopIds: null, expiresAt: null });
    const [line] = (await casebook.boards.recurrences(actor, { first: 1 })).lines;
    const profile = mkdtempSync(join(tmpdir(), 'coolback-browser-'));
    const api = await startApi(directory, database);
    const browser = await chromium.launch({
      executablePath: EXECUTABLE,
      args: ['--headless', '--no-sandbox', '--disable-gpu'],
      env: { ...process.env, HOME: profile },
    });
    try {
      const views = await firstViews(browser, api.url, secret);
      const rounds = await boardRounds(browser, api.url, secret);
      const of = (name) => Math.round(median(rounds.map((one) => one[name])));
      const whole = `#/recurrences/line?platform=${line.platformId}&fault=${line.fault}&intent=${line.intent}`;
      for (const [name, hash] of WITH_PAGES ? PAGES : []) {
        const { context, page } = await newTab(browser, secret);
        const start = performance.now();
        await page.goto(`${api.url}/${hash ?? whole}`);
        await settled(page);
        const asked = (await slowest(page)).map(({ path, ms, kb }) => `${path} ${Math.round(ms)} ms, ${Math.round(kb)} kB`);
        log(`${name}: whole after ${Math.round(performance.now() - start)} ms (half a second of quiet in it); ${asked.join('; ')}`);
        await context.close();
      }
      return [
        {
          name: 'board painted after its answer, median',
          ratio: of('after') / 1_000,
          baseline: 'its bar of 1 s',
          aim: 1,
          detail: `${of('after')} ms, at most ${Math.round(Math.max(...rounds.map(({ after }) => after)))} ms; painted ${of('painted')} ms after the address was asked for, answered after ${of('answered')} ms; ${ROUNDS} new profiles, ${CASES} cases`,
        },
        {
          name: 'first link of the first page is there, median',
          ratio: median(views) / 1_500,
          baseline: 'its bar of 1.5 s',
          aim: 1,
          detail: `${Math.round(median(views))} ms, at most ${Math.round(Math.max(...views))} ms; ${ROUNDS} new profiles`,
        },
      ];
    } finally {
      await browser.close();
      api.child.removeAllListeners('exit');
      api.child.kill('SIGKILL');
      rmSync(profile, { recursive: true, force: true });
    }
  });
}
