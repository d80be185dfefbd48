import { readFileSync } from 'node:fs';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it, jest } from '@jest/globals';
import { newPlatform, newShop, request, type TestApi, type TestOrganisation, testApi, testOrganisation } from '../support/api.js';
import { type Browser, startBrowser, type Visit } from './chromium.js';
import { eventually } from './eventually.js';

/** The administrator's whole job in a real browser. Nothing but the server is reached. */
jest.setTimeout(240_000);

const VIN = '1M8GDM9AXKP042788';
let api: TestApi;
let org: TestOrganisation;
let browser: Browser;
let visit: Visit;
let shopId: string;
let platformId: string;

beforeAll(async () => {
  api = await testApi();
  org = await testOrganisation(api, 'Western shops');
  shopId = (await request(api, org.keys.administrator, 'POST', '/v1/shops', newShop('quay'))).body.id;
  platformId = (await request(api, org.keys.administrator, 'POST', '/v1/platforms', newPlatform('knot-r'))).body.id;
  await request(api, org.keys.integrator, 'POST', '/v1/cases', {
    shopCode: 'quay',
    vehicle: { vin: VIN, platformCode: 'knot-r' },
    complaint: 'cools-poorly',
  });
  browser = await startBrowser(api.url);
}, 600_000);
afterAll(async () => {
  await browser?.close();
  await api?.close();
});
beforeEach(async () => {
  visit = await browser.open({ key: org.keys.administrator });
});
afterEach(async () => {
  expect(visit.troubles()).toEqual([]);
  await visit.close();
});

const button = (name: string | RegExp) => visit.page.getByRole('button', { name, exact: typeof name === 'string' });
const until = (words: string | RegExp) => visit.page.getByText(words).first().waitFor();
const field = (label: string) => visit.page.getByLabel(label, { exact: true });
const get = async (path: string) => (await request(api, org.keys.administrator, 'GET', path)).body;

describe('shops', () => {
  it('are added with their climate, drawn, and changed', async () => {
    await visit.go('#/settings');
    await visit.page.getByRole('link', { name: 'Add a shop' }).click();
    for (const [label, value] of [
      ['Name', 'Weir Bridge'],
      ['Code, as your own system says it', 'weir-bridge'],
      ['Elevation, m', '410'],
      ['Time zone (IANA)', 'Europe/Madrid'],
      ['Currency (ISO 4217)', 'eur'],
      ['Price of an hour of work', '52'],
    ] as const)
      await field(label).fill(value);
    expect(await button('Add it').isDisabled()).toBe(true);
    for (const [i, month] of ['Jan', 'Feb', 'Mar', 'Apr', 'May', 'Jun', 'Jul', 'Aug', 'Sep', 'Oct', 'Nov', 'Dec'].entries()) {
      await field(`Mean, ${month}, °C`).fill(String(8 + 3 * (6 - Math.abs(6 - i))));
      await field(`Standard deviation, ${month}, °C`).fill('3.4');
    }
    await button('Add it').click();
    await visit.page.getByRole('heading', { name: 'Weir Bridge' }).waitFor();
    await visit.page.getByRole('img', { name: /^The climate its heat clock runs on/ }).waitFor();
    await until(/^Jul: mean 26 °C/);
    await field('Elevation, m').fill('415');
    await Promise.all([visit.page.waitForResponse((response) => response.request().method() === 'PATCH'), button('Save it').click()]);
    const { data } = await get('/v1/shops?first=100');
    const stored = data.find(({ code }: { code: string }) => code === 'weir-bridge');
    expect(data.length).toBe(2);
    expect(stored).toMatchObject({ elevationM: 415, currency: 'EUR', labourRate: 52 });
    expect(stored.normals[6]).toEqual({ meanC: 26, sdC: 3.4 });
  });

  it('take in observed weather from pasted text, or say which line is wrong', async () => {
    await visit.go(`#/settings/shops/${shopId}`);
    await until('No day was observed yet: the heat clock runs on the normals above.');
    await visit.page.getByText('Read in daily means').click();
    await field('Or paste').fill('day,mean\n2026-07-01,24.5\n07/02/2026,25\n');
    await button('Read it').click();
    await until(/^Line 3: .*nobody can tell the day from the month/);
    await field('Or paste').fill('day,mean\n2026-07-01,24.5\n2026-07-02,25\n');
    await button('Read it').click();
    await button('Take in 2 days').click();
    await until('2 days from 1 Jul 2026 to 2 Jul 2026.');
    expect((await get(`/v1/shops/${shopId}/weather`)).days).toEqual([
      { day: '2026-07-01', meanC: 24.5 },
      { day: '2026-07-02', meanC: 25 },
    ]);
    await visit.page.getByText('Take days out').click();
    await field('From').fill('2026-07-02');
    await button(/^Take out 1 day/).click();
    await button(/^Really take them out/).click();
    await until('1 day from 1 Jul 2026 to 1 Jul 2026.');
    expect((await get(`/v1/shops/${shopId}/weather`)).days).toEqual([{ day: '2026-07-01', meanC: 24.5 }]);
  });

  it('say what is wrong where the server refuses', async () => {
    await visit.go(`#/settings/shops/${shopId}`);
    await field('Time zone (IANA)').fill('Nowhere/Land');
    await button('Save it').click();
    await until(/There is no answer about this shop/);
    await until('/timeZone');
    expect(visit.troubles().every((one) => /422/.test(one))).toBe(true);
  });
});

describe('platforms', () => {
  it('are drawn as they are typed: ports and transducer move to where they sit', async () => {
    await visit.go(`#/settings/platforms/${platformId}`);
    await visit.page.getByRole('img', { name: /high-side port at liquid line after drier, transducer at compressor discharge/ }).waitFor();
    await field('Layout').selectOption('orifice-accumulator');
    await field('High-side service port').selectOption('condenser-outlet');
    await visit.page.getByRole('img', { name: /orifice tube and accumulator; high-side port at condenser outlet/ }).waitFor();
    await field('Specified charge, g').fill('610');
    await Promise.all([visit.page.waitForResponse((response) => response.request().method() === 'PATCH'), button('Save it').click()]);
    await expect(get(`/v1/platforms/${platformId}`)).resolves.toMatchObject({
      layout: 'orifice-accumulator',
      highSidePort: 'condenser-outlet',
      chargeG: 610,
    });
  });

  it('say whose readings a sound one is held against, and look again when told to', async () => {
    await visit.go(`#/settings/platforms/${platformId}`);
    const sound = visit.page.getByRole('region', { name: 'When it is sound' });
    await sound.getByText(/^Nobody has looked at known-good readings/).waitFor();
    await sound.getByText('What counts, and how much').click();
    await sound.getByText(/^Related: other platforms of this organisation/).waitFor();
    await sound.getByRole('button', { name: 'Look at the readings again' }).click();
    await sound.getByText(/^0 known-good cases of 0 shops: 3 shops are needed/).waitFor();
    expect(await get(`/v1/platforms/${platformId}/expectation`)).toMatchObject({ verdict: 'of-its-kind', version: 1 });
    expect(await visit.violations()).toEqual([]);
  });

  it('are read, not changed, without the permission', async () => {
    await visit.close();
    visit = await browser.open({ key: org.keys.technician });
    await visit.go(`#/settings/platforms/${platformId}`);
    await until('Platforms are changed by those who have the permission');
    expect(await button('Save it').count()).toBe(0);
    await visit.page
      .getByRole('region', { name: 'When it is sound' })
      .getByText(/^0 known-good cases/)
      .waitFor();
    expect(await button('Look at the readings again').count()).toBe(0);
  });
});

describe('members', () => {
  it('are added, given a PIN and another role, and put aside', async () => {
    await visit.go('#/settings/members');
    await until('Nobody is listed yet.');
    await field('Name').fill('Ines Prado');
    await button('Add').click();
    await visit.page.getByRole('row', { name: /Ines Prado/ }).waitFor();
    await button('Set PIN of Ines Prado').click();
    await visit.page.getByLabel(/^New PIN of Ines Prado/).fill('2468');
    await button('Set it').click();
    await visit.page.getByLabel(/^New PIN of Ines Prado/).waitFor({ state: 'detached' });
    await visit.page.getByLabel('Role of Ines Prado').selectOption('director');
    await eventually(visit.page, "document.querySelector('select[aria-label=\"Role of Ines Prado\"]')?.value === 'director'");
    await button('Put aside Ines Prado').click();
    await button('Really put aside Ines Prado').click();
    // Only who is put aside can be taken back; the words alone also stand on the button that was pressed.
    await button('Take back Ines Prado').waitFor();
    const { data } = await get('/v1/members');
    expect(data[0]).toMatchObject({ name: 'Ines Prado', role: 'director', active: false });
  });
});

describe('what counts as a return', () => {
  it('is read in words, changed within bounds, and said to be made anew', async () => {
    const before = await get('/v1/outcomes/rules');
    await visit.go('#/settings/returns');
    await until(before.definitions[0]);
    expect(await button('Set these rules').isDisabled()).toBe(true);
    await field('A repair is followed for, days (empty: without end)').fill('7');
    await until('A whole number of days, 30 to 3650.');
    expect(await button('Set these rules').isDisabled()).toBe(true);
    await field('A repair is followed for, days (empty: without end)').fill('730');
    await button('Set these rules').click();
    await until('The worker is deriving the figures again.');
    expect(await get('/v1/outcomes/rules')).toMatchObject({ lookBackDays: 730, version: before.version + 1 });
  });
});

describe('export and deletion', () => {
  it('hands out everything, and the list of cases', async () => {
    await visit.go('#/settings/leaving');
    const [whole] = await Promise.all([visit.page.waitForEvent('download'), button('Export everything').click()]);
    const lines = readFileSync((await whole.path())!, 'utf8')
      .trim()
      .split('\n');
    expect(JSON.parse(lines[0]!)).toMatchObject({ format: 'coolback-export' });
    expect(lines.length).toBeGreaterThan(3);
    await until('It is in your downloads.');
    const [cases] = await Promise.all([visit.page.waitForEvent('download'), button('The list of cases as CSV').click()]);
    expect(readFileSync((await cases.path())!, 'utf8')).toContain('cools-poorly');
  });

  it('forgets a car after a second press', async () => {
    await visit.go('#/settings/leaving');
    await field('VIN').fill(VIN);
    await button('Find').click();
    await until('The car is known here.');
    await button('Forget it the car').click();
    await button('Really forget it: this cannot be undone the car').click();
    await until('The car is forgotten.');
    expect((await request(api, org.keys.administrator, 'POST', '/v1/vehicles/lookup', { vin: VIN })).status).toBe(404);
  });
});

describe('the engine', () => {
  it('is named, and says that nothing was judged yet and what is simulated', async () => {
    const quality = await get('/v1/engine/quality');
    await visit.go('#/settings/engine');
    await until(`Version ${quality.engineVersion}.`);
    await until('No answer was judged yet.');
    await until('On simulated systems (not accuracy on vehicles)');
  });
});
