import { gzipSync } from 'node:zlib';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it, jest } from '@jest/globals';
import { importCases } from '#apps/worker/jobs/import-cases.job.js';
import { type PartOf, PLACES, type SectionName } from '../../apps/console/shell/places.js';
import { request, type TestApi, type TestOrganisation, testOrganisation } from '../support/api.js';
import type { Browser, Visit } from './chromium.js';
import { eventually } from './eventually.js';
import { type DemoBrowser, demoBrowser } from './region.js';

/** Each user's main path in a real browser, over the first cases of the demo region. Nothing but the server can be reached. */
// A test visits a dozen pages or all of them: on a machine that does much else each may take half a minute.
jest.setTimeout(900_000);

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

const section = <Name extends SectionName>(name: Name) => Object.keys(PLACES[name].parts).map((part) => `${name}/${part}`);
/** Every address of the console but the first page's. */
const EVERY_PLACE = (Object.keys(PLACES) as SectionName[]).flatMap(section);
type Place = { [Name in SectionName]: `${Name}/${PartOf<Name>}` }[SectionName];

/** Who goes there, and what is to be read there once it has come. A page that stands in no list here does not compile. */
const SIGNS: Readonly<Record<Place, readonly ['technician' | 'director' | 'administrator', string | RegExp]>> = {
  'bay/': ['technician', 'Nothing judged yet.'],
  'bay/case/:id': ['technician', 'What was read'],
  'bay/vehicle/:id': ['technician', 'Repairs and how they held'],
  'bay/offer': ['technician', 'what can be done'],
  'recurrences/': ['director', /lines?, the surest returns first/],
  'recurrences/line': ['director', 'The repairs behind it'],
  'recurrences/grouped': ['director', 'Every line'],
  'recurrences/patterns': ['director', 'Patterns have not been weighed yet.'],
  'recurrences/watches': ['director', 'The streams have not been looked at yet.'],
  'recurrences/shops': ['director', 'how far the records can be trusted'],
  'recurrences/records': ['director', 'All measures'],
  'recurrences/charge': ['director', 'Off the specified charge'],
  'recurrences/refrigerant': ['director', 'Shop and month'],
  'recurrences/stock': ['director', 'Make an entry'],
  'recurrences/costs': ['director', 'Sums'],
  'recurrences/policies': ['director', 'No policy is in force.'],
  'recurrences/month': ['director', 'Policies in force'],
  'recurrences/repairs': ['director', 'The repairs behind it'],
  'recurrences/cases': ['director', 'so far, newest first'],
  'feeds/': ['administrator', 'What came in'],
  'feeds/imports': ['administrator', 'Send a file'],
  'feeds/imports/:id': ['administrator', 'What became of each row'],
  'feeds/mappings': ['administrator', 'A new mapping'],
  'feeds/webhooks': ['administrator', 'Add an address'],
  'feeds/webhooks/:id': ['administrator', 'All webhooks'],
  'feeds/keys': ['administrator', /so far, oldest first/],
  'feeds/trail': ['administrator', /so far, newest first/],
  'settings/': ['administrator', 'Where cars are seen'],
  'settings/shops/:id': ['administrator', 'The climate its heat clock runs on'],
  'settings/platforms': ['administrator', 'A vehicle platform’s'],
  'settings/platforms/:id': ['administrator', 'Specified charge, g'],
  'settings/members': ['administrator', 'Add a person'],
  'settings/returns': ['administrator', 'Change them'],
  'settings/leaving': ['administrator', 'Having a car forgotten'],
  'settings/engine': ['administrator', 'How the answers ended'],
};
/** Pages that ask nothing of the server before somebody acts, and one that works while it waits. */
const ASK_NOTHING = ['settings/leaving'];
const WAIT_FOR_NOTHING = [...ASK_NOTHING, 'bay/'];

/** The one page a key that reads cars may see. */
const OPEN_TO_THIS_KEY = 'bay/vehicle/:id';

describe('every page', () => {
  let ids: Readonly<Record<string, string>> = {};
  let queries: Readonly<Record<string, string>> = {};
  beforeAll(async () => {
    const { caseId, vehicleId, platformId } = await firstEpisode('fault=undercharge&intent=temporary');
    const { body: added } = await request(api, org.keys.administrator, 'POST', '/v1/webhooks', {
      url: 'https://orders.example/hook',
      kinds: ['import.finished'],
    });
    const sent = await fetch(`${api.url}/v1/imports`, {
      method: 'POST',
      headers: { authorization: `Bearer ${org.keys.administrator}`, 'content-type': 'text/csv', 'idempotency-key': 'pages' },
      body: 'shop_code,system,reference,revision,opened_at,complaint\nquay,orders,F-1,1,2026-05-04T09:00:00Z,noise\n',
    });
    const { id: importId } = (await sent.json()) as { id: string };
    // A page of one that still runs listens for as long as it stands.
    await importCases(api.casebook, org.orgId, importId, { isLastTry: true });
    const { body: shops } = await request(api, org.keys.administrator, 'GET', '/v1/shops');
    ids = {
      'bay/case/:id': caseId,
      'bay/vehicle/:id': vehicleId,
      'feeds/imports/:id': importId,
      'feeds/webhooks/:id': added.webhook.id,
      'settings/shops/:id': shops.data[0].id,
      'settings/platforms/:id': platformId,
    };
    queries = {
      'recurrences/line': `?platform=${platformId}&fault=undercharge&intent=temporary`,
      'bay/offer': `?platform=${platformId}&fault=undercharge&shop=${shops.data[0].id}`,
    };
  });
  const addressOf = (place: string) => `#/${place.replace(':id', ids[place] ?? '').replace(/\/$/, '')}${queries[place] ?? ''}`;
  const settled = () =>
    eventually(
      visit.page,
      "document.querySelector('main h1, main h2, main .state') !== null && document.querySelector('main .pulse') === null",
    );

  it.each(['technician', 'director', 'administrator'] as const)('has nothing axe-core objects to, in both themes: %s', async (role) => {
    visit = await browser.open({ key: org.keys[role] });
    const visited: string[] = [];
    for (const place of EVERY_PLACE) {
      const [whose, sign] = SIGNS[place as Place];
      if (whose !== role) continue;
      await visit.go(addressOf(place));
      await until(sign);
      await settled();
      expect({ place, violations: await visit.violationsInBothThemes() }).toEqual({ place, violations: [] });
      visited.push(place);
    }
    const further =
      role === 'technician'
        ? ['', '#/nowhere', 'graphiql']
        : role === 'director'
          ? ['#/recurrences/line', '#/recurrences/nowhere']
          : ['#/settings/shops/new', '#/settings/platforms/new', '#/feeds/nowhere'];
    for (const hash of further) {
      await visit.go(hash);
      await settled();
      expect({ hash, violations: await visit.violationsInBothThemes() }).toEqual({ hash, violations: [] });
    }
    expect(visited).toEqual(EVERY_PLACE.filter((place) => SIGNS[place as Place][0] === role));
  });

  it('says what it is waiting for, and what went wrong when the server fails, with the way on', async () => {
    visit = await browser.open({ key: org.keys.administrator });
    let holding = true;
    const held: (() => Promise<void>)[] = [];
    const broken = { type: 'about:blank', status: 500, title: 'Broken', code: 'internal', detail: 'It broke on purpose.' };
    await visit.page.route(/\/v1\/(?!me$|tasks$)/, async (route) => {
      const fail = () => route.fulfill({ status: 500, contentType: 'application/problem+json', json: broken });
      if (holding) held.push(fail);
      else await fail();
    });
    for (const place of EVERY_PLACE) {
      holding = true;
      await visit.go(addressOf(place));
      await visit.page.locator('main h1, main .state').first().waitFor();
      if (!WAIT_FOR_NOTHING.includes(place)) await visit.page.locator('main .state', { hasText: 'Fetching' }).first().waitFor();
      holding = false;
      for (const fail of held.splice(0)) await fail();
      if (ASK_NOTHING.includes(place)) continue;
      await visit.page.getByRole('alert').filter({ hasText: 'There is no answer about' }).first().waitFor();
      await button('Try again').first().waitFor();
    }
    expect(visit.troubles().every((one) => /500/.test(one))).toBe(true);
  });

  it('says which permission is missing, and takes another key', async () => {
    const { body } = await request(api, org.keys.administrator, 'POST', '/v1/keys', {
      name: 'Reads cars only',
      role: 'technician',
      permissions: ['vehicles:read'],
      shopIds: null,
      expiresAt: null,
    });
    expect(body.key.permissions).toEqual(['vehicles:read']);
    visit = await browser.open({ key: body.secret });
    for (const place of EVERY_PLACE) {
      if (place === OPEN_TO_THIS_KEY) continue;
      await visit.go(addressOf(place));
      await visit.page
        .locator('main')
        .getByText(/may not (see|read|export|forget)|needs? the permission|with the permission/)
        .first()
        .waitFor();
    }
    expect(visit.troubles().every((one) => /403/.test(one))).toBe(true);
  });
});

describe('the frame', () => {
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

/** What stands where there is nothing yet. Pages of one thing are not among them: without it there is no such page. */
const NOTHING_YET: readonly (readonly [Place, string | RegExp])[] = [
  ['bay/', 'Nothing judged yet.'],
  ['bay/offer', 'This address names no offer.'],
  ['recurrences/', 'No repairs are recorded yet.'],
  ['recurrences/line', 'This address names no line.'],
  ['recurrences/grouped', 'No repairs to tell apart.'],
  ['recurrences/patterns', 'Patterns have not been weighed yet.'],
  ['recurrences/watches', 'The streams have not been looked at yet.'],
  ['recurrences/shops', 'No repairs to hold shops against.'],
  ['recurrences/records', 'No cases in this period.'],
  ['recurrences/charge', 'No charge was weighed in this period.'],
  ['recurrences/refrigerant', 'No refrigerant was handled in this period.'],
  ['recurrences/costs', 'No return in this period.'],
  ['recurrences/repairs', 'No such repair is recorded.'],
  ['recurrences/policies', 'No policy is in force.'],
  ['recurrences/stock', 'Nothing is entered in this period.'],
  ['recurrences/cases', 'No such case.'],
  ['feeds/', 'No case came in yet.'],
  ['feeds/imports', 'No file was sent yet.'],
  ['feeds/mappings', 'No mapping is saved yet.'],
  ['feeds/webhooks', 'No address is told of events yet.'],
  ['settings/members', 'Nobody is listed yet.'],
  ['settings/engine', 'No answer was judged yet.'],
];

describe('an organisation with nothing in it yet', () => {
  it('says what to do next on every page', async () => {
    const empty = await testOrganisation(api, 'New region');
    for (const role of ['technician', 'director', 'administrator'] as const) {
      visit = await browser.open({ key: empty.keys[role] });
      for (const [place, sign] of NOTHING_YET) {
        if (SIGNS[place][0] !== role) continue;
        await visit.go(`#/${place.replace(/\/$/, '')}`);
        await until(sign);
      }
      expect(visit.troubles()).toEqual([]);
      await visit.close();
    }
    visit = await browser.open();
  });
});
