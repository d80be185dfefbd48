import { gzipSync } from 'node:zlib';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it, jest } from '@jest/globals';
import { request, type TestApi, type TestOrganisation, testOrganisation } from '../support/api.js';
import type { Browser, Visit } from './chromium.js';
import { eventually } from './eventually.js';
import { type DemoBrowser, demoBrowser } from './region.js';

/** Each user's main path in a real browser, over the first cases of the demo region. Nothing but the server can be reached. */
jest.setTimeout(180_000);

const CASES = 260;
let demo: DemoBrowser;
let api: TestApi;
let org: TestOrganisation;
let browser: Browser;
let visit: Visit;

beforeAll(async () => {
  demo = await demoBrowser(CASES);
  ({ api, org, browser } = demo);
}, 600_000);
afterAll(() => demo?.close());
afterEach(async () => {
  expect(visit.troubles()).toEqual([]);
  await visit.close();
});

const button = (name: string | RegExp) => visit.page.getByRole('button', { name, exact: typeof name === 'string' });
const text = (words: string | RegExp) => visit.page.getByText(words).first();
const until = (words: string | RegExp) => text(words).waitFor();

async function firstEpisode(query: string): Promise<{ caseId: string; vehicleId: string; platformId: string }> {
  const { body } = await request(api, org.keys.director, 'GET', `/v1/outcomes/episodes?${query}`);
  return body.data.find(({ vehicleId }: { vehicleId: string | null }) => vehicleId !== null);
}

describe('a first visit', () => {
  beforeEach(async () => {
    visit = await browser.open();
    await visit.go('');
  });

  it('asks who is there, and takes a key', async () => {
    await until('I repair cars');
    expect(await visit.page.locator('.who-card').count()).toBe(3);
    expect(await visit.page.locator('.who-card li').count()).toBe(9);
    await visit.page.getByLabel('First, your key').fill(org.keys.director);
    await button('Use this key').click();
    await until('Your key: Director in Demo region.');
    await until('The demo region is still being loaded');
    const bar = visit.page.getByRole('progressbar');
    expect(Number(await bar.getAttribute('value'))).toBeGreaterThanOrEqual(CASES);
  });

  it('says what is wrong with a key before it is sent, and after', async () => {
    await visit.page.getByLabel('First, your key').fill('not a key');
    await button('Use this key').click();
    await until('A key begins with cbk_');
    expect(visit.troubles()).toEqual([]);
    await visit.page.getByLabel('First, your key').fill('cbk_00000000000000000000000000000000_x');
    await button('Use this key').click();
    await until('This key is not taken.');
    const troubles = visit.troubles();
    expect(troubles.length).toBeGreaterThan(0);
    expect(troubles.every((one) => /401/.test(one))).toBe(true);
  });

  it('every task leads somewhere, with at most 250 kB of script before the first view', async () => {
    await visit.page.getByLabel('First, your key').fill(org.keys.integrator);
    await button('Use this key').click();
    await until('Your key: Integrator');
    for (const href of await visit.page.locator('.who-card li a').evaluateAll((links) => links.map((link) => link.getAttribute('href')!))) {
      const answer = await fetch(new URL(href, `${api.url}/`));
      expect(answer.status).toBe(200);
    }
    const loaded = await visit.page.evaluate(() => performance.getEntriesByType('resource').map(({ name }) => name));
    const scripts = await Promise.all(
      loaded
        .filter((name) => name.endsWith('.js'))
        .map(async (name) => gzipSync(Buffer.from(await (await fetch(name)).arrayBuffer())).length),
    );
    expect(scripts.length).toBeGreaterThan(0);
    const kilobytes = (scripts.reduce((sum, bytes) => sum + bytes, 0) / 1_000).toFixed(0);
    process.stdout.write(`first view: ${kilobytes} kB of script in ${scripts.length} files, gzip\n`);
    expect(scripts.reduce((sum, bytes) => sum + bytes, 0)).toBeLessThan(250_000);
    const pages = await visit.page.locator('.who-card li a').evaluateAll((links) => links.map((link) => link.getAttribute('href')!));
    for (const href of pages.filter((one) => one.startsWith('#'))) {
      await visit.go(href);
      const title = visit.page.locator('main h1').first();
      await title.waitFor();
      // Nothing is being fetched any more.
      await eventually(visit.page, "document.querySelector('main .pulse') === null");
      const refusals = await visit.page.getByRole('alert').count();
      expect({ href, found: (await title.textContent()) !== 'Not here', refusals }).toEqual({ href, found: true, refusals: 0 });
    }
  });
});

describe('every page in both themes', () => {
  const pages = async (): Promise<readonly (readonly [string, string, string])[]> => {
    const { caseId, vehicleId, platformId } = await firstEpisode('fault=undercharge&intent=temporary');
    const line = `platform=${platformId}&fault=undercharge&intent=temporary`;
    return [
      ['', 'I repair cars', 'technician'],
      ['#/recurrences', 'What comes back', 'director'],
      [`#/recurrences/line?${line}`, 'The repairs behind it', 'director'],
      ['#/recurrences/line', 'This address names no line.', 'director'],
      ['#/bay', 'Nothing judged yet.', 'technician'],
      [`#/bay/case/${caseId}`, 'What was read', 'technician'],
      [`#/bay/vehicle/${vehicleId}`, 'Repairs and how they held', 'technician'],
      ['#/feeds', 'What came in', 'administrator'],
      ['graphiql', 'Queries', 'technician'],
      ['#/nowhere', 'There is no such page.', 'technician'],
    ];
  };

  it('has nothing axe-core objects to', async () => {
    const all = await pages();
    for (const role of ['technician', 'director', 'administrator'] as const) {
      if (visit) await visit.close();
      visit = await browser.open({ key: org.keys[role] });
      for (const [hash, sign] of all.filter(([, , whose]) => whose === role)) {
        await visit.go(hash);
        await until(sign);
        expect({ hash, violations: await visit.violationsInBothThemes() }).toEqual({ hash, violations: [] });
      }
      expect(visit.troubles()).toEqual([]);
    }
  });

  it('follows the switch instead of the device', async () => {
    visit = await browser.open({ theme: 'light' });
    await visit.go('');
    const paper = () => visit.page.evaluate<string>('getComputedStyle(document.body).backgroundColor');
    const light = await paper();
    await visit.page.getByLabel('Colours').selectOption('dark');
    const dark = await paper();
    expect(dark).not.toBe(light);
    await visit.page.reload();
    expect(await paper()).toBe(dark);
  });

  it('asks for a key where one is needed, and says which permission is missing', async () => {
    visit = await browser.open();
    await visit.go('#/recurrences');
    await until('Recurrences needs a key.');
    const founder = await request(api, org.keys.administrator, 'POST', '/v1/keys', {
      name: 'Reads cases only',
      role: 'technician',
      permissions: ['cases:read'],
      shopIds: null,
      expiresAt: null,
    });
    await visit.page.getByLabel('Your key').fill(founder.body.secret);
    await button('Use this key').click();
    await until('Your key may not see the recurrences.');
    await until(/outcomes:read/);
    expect(visit.troubles().every((one) => /403/.test(one))).toBe(true);
  });
});

describe('an organisation with nothing in it yet', () => {
  it('says what to do next on every page', async () => {
    const empty = await testOrganisation(api, 'New region');
    for (const [hash, sign, role] of [
      ['#/recurrences', 'No repairs are recorded yet.', 'director'],
      ['#/feeds', 'No case came in yet.', 'integrator'],
      ['#/bay', 'Nothing judged yet.', 'technician'],
    ] as const) {
      await visit.close();
      visit = await browser.open({ key: empty.keys[role] });
      await visit.go(hash);
      await until(sign);
    }
  });
});
