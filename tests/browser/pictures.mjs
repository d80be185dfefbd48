/**
 * Takes the pictures of every page that docs/console.md shows, over a demo region that runs (`npm start`):
 *
 *   node tests/browser/pictures.mjs DATA_FOLDER [ADDRESS] [--into FOLDER] [--only WORD]… [--every] [--width PIXELS]
 *
 * DATA_FOLDER holds first-keys.json. Without --every the pictures of the documents are taken; with it each of them in both themes, to be looked at, and with
 * --width whole pages of that width (390: a telephone). What
 * a picture needs and the region has not (two people, a webhook, an import, a policy, purchases) is made first, once.
 */
import { mkdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import { chromium } from 'playwright-core';

const { values, positionals } = parseArgs({
  allowPositionals: true,
  options: {
    into: { type: 'string', default: 'docs/pictures' },
    only: { type: 'string', multiple: true },
    every: { type: 'boolean', default: false },
    width: { type: 'string' },
  },
});
const [folder, url = 'http://127.0.0.1:4280'] = positionals;
if (folder === undefined) throw new Error('name the data folder of the server: node tests/browser/pictures.mjs DATA_FOLDER [ADDRESS]');
const { keys } = JSON.parse(readFileSync(join(folder, 'first-keys.json'), 'utf8')).demo;

const MAPPING = {
  columns: [
    { column: 'Shop', field: 'shop_code' },
    { column: 'Order', field: 'reference' },
    { column: 'Complaint', field: 'complaint' },
    { column: 'Day', field: 'opened_at' },
  ],
  dates: 'day-month-year',
};

async function ask(role, method, path, body) {
  const response = await fetch(`${url}${path}`, {
    method,
    headers: {
      authorization: `Bearer ${keys[role]}`,
      ...(method === 'GET' ? {} : { 'content-type': 'application/json', 'idempotency-key': crypto.randomUUID() }),
    },
    ...(body === undefined ? {} : { body: typeof body === 'string' ? body : JSON.stringify(body) }),
  });
  const answer = await response.json();
  if (!response.ok) throw new Error(`${method} ${path}: ${answer.detail}`);
  return answer;
}

/** Makes what the region has not, and finds what the pages of one thing are about. */
async function prepare() {
  if ((await ask('administrator', 'GET', '/v1/members')).data.length === 0)
    for (const [name, role] of [
      ['Ana Ferrer', 'technician'],
      ['Tomas Vidal', 'technician'],
      ['Ines Prado', 'director'],
    ]) {
      const { id } = await ask('administrator', 'POST', '/v1/members', { name, role, shopIds: null });
      await ask('administrator', 'POST', `/v1/members/${id}/pin`, { pin: '4726' });
    }
  const shops = (await ask('director', 'GET', '/v1/shops?first=100')).data;
  if ((await ask('integrator', 'GET', '/v1/webhooks')).data.length === 0)
    await ask('integrator', 'POST', '/v1/webhooks', {
      url: 'https://orders.example/hooks/coolback',
      kinds: ['case.opened', 'pattern.found'],
    });
  if ((await ask('integrator', 'GET', '/v1/imports')).data.length === 0) {
    const heads = 'shop_code,system,reference,revision,vin,platform_code,opened_at,complaint';
    const rows = Array.from({ length: 12 }, (_, i) => {
      const complaint = i % 5 === 4 ? 'cools-porly' : 'cools-poorly';
      return `${shops[i % shops.length].code},orders,P-${i + 1},1,,,2026-05-${String(i + 4).padStart(2, '0')}T09:00:00Z,${complaint}`;
    });
    const sent = await fetch(`${url}/v1/imports`, {
      method: 'POST',
      headers: { authorization: `Bearer ${keys.integrator}`, 'content-type': 'text/csv', 'idempotency-key': crypto.randomUUID() },
      body: [heads, ...rows].join('\n'),
    });
    if (!sent.ok) throw new Error(`import: ${await sent.text()}`);
  }
  if ((await ask('integrator', 'GET', '/v1/imports/mappings')).data.length === 0)
    await ask('integrator', 'POST', '/v1/imports/mappings', { name: 'Tills', mapping: MAPPING });
  if ((await ask('director', 'GET', '/v1/refrigerant-entries')).data.length === 0)
    for (const [i, massG] of [12_000, 9_000, 13_600].entries())
      await ask('director', 'POST', '/v1/refrigerant-entries', {
        shopId: shops[i].id,
        refrigerant: 'R-134a',
        kind: 'purchase',
        massG,
        day: '2026-06-15',
        document: `INV-${70 + i}`,
      });
  for (const [path, body] of [
    ['machines', { name: 'Bay 1', scaleErrorG: 10 }],
    ['cylinders', { label: 'C-1', content: 'recovered', capacityG: 12_000 }],
  ])
    if ((await ask('director', 'GET', `/v1/${path}`)).data.length === 0)
      await ask('director', 'POST', `/v1/${path}`, { shopId: shops[0].id, refrigerant: 'R-134a', ...body });
  const line = (await ask('director', 'GET', '/v1/outcomes/recurrences?fault=filter-cartridge&minimumEpisodes=5')).lines[0];
  if ((await ask('director', 'GET', '/v1/policies')).data.length === 0)
    await ask('director', 'POST', '/v1/policies', {
      platformId: line.platformId,
      fault: 'filter-cartridge',
      action: 'replace-filter-cartridge',
      rule: 'forbid',
      note: 'A cartridge alone lasts one season here',
    });
  const subjects = ['patterns', 'watches'];
  for (const subject of subjects)
    if ((await ask('director', 'GET', `/v1/outcomes/${subject}`)).scoredAt === null)
      await ask('director', 'POST', `/v1/outcomes/${subject}/scoring`);
  const repaired = (await ask('director', 'GET', '/v1/outcomes/episodes?fault=filter-cartridge&outcome=returned')).data.find(
    (one) => one.vehicleId,
  );
  return {
    line,
    caseId: repaired.caseId,
    vehicleId: repaired.vehicleId,
    importId: (await ask('integrator', 'GET', '/v1/imports')).data[0].id,
    webhookId: (await ask('integrator', 'GET', '/v1/webhooks')).data[0].id,
    shopId: shops[0].id,
    platformId: line.platformId,
  };
}

/** Until nothing is being fetched any more. */
async function settled(page) {
  const busy = page.locator('main .state, main .glance p', { hasText: /Fetching|^…$/ });
  for (let tries = 0; (await busy.count()) > 0 && tries < 300; tries++) await page.waitForTimeout(100);
}

const scrollTo = (selector) => async (page) => {
  await page
    .locator(selector)
    .first()
    .evaluate((one) => one.scrollIntoView({ block: 'start' }));
};
const judged = async (page) => {
  await page.getByText('R-134a, 540 g').waitFor();
  await page.getByRole('button', { name: 'Judge', exact: true }).click();
  await page.getByText('Cars like this one, nearest first').waitFor();
};
const section = (name) => async (page) => {
  await judged(page);
  await scrollTo(`section[aria-label="${name}"]`)(page);
};
async function spots(page) {
  await page.getByText('R-134a, 540 g').waitFor();
  await page.getByText('Condenser face, by spots or grid').click();
  for (const [i, value] of [66, 61, 59.5, 58, 57, 41, 39].entries())
    await page.getByLabel(`Height ${i + 1} of 7 from the top, middle`).fill(String(value));
  await page.getByText('Condenser face, by spots or grid').evaluate((one) => one.scrollIntoView());
}
async function face(page) {
  await spots(page);
  await page.getByRole('button', { name: 'Judge', exact: true }).click();
  await page.getByText('A step where subcooling begins').first().waitFor();
  await scrollTo('section[aria-label="Condenser face"]')(page);
}
async function trace(page) {
  await page.getByText('R-134a, 540 g').waitFor();
  await page.getByText('Pressure over time').first().click();
  await page.getByText('From a logger: CSV or JSON').click();
  const lines = Array.from({ length: 401 }, (_, s) => {
    const inCycle = (s - 60) % 50;
    return `${s},${s < 60 ? 75 - 0.75 * s : inCycle < 30 ? 30 + 0.4 * inCycle : 42 - 0.6 * (inCycle - 30)}`;
  });
  await page
    .getByLabel('Or paste')
    .last()
    .fill(['second,psi', ...lines].join('\n'));
  await page.getByRole('button', { name: 'Read it' }).last().click();
  await page.getByRole('button', { name: 'Judge', exact: true }).click();
  await page.getByText('every 50 s, 30 psi to 42 psi').waitFor();
  await scrollTo('section[aria-label="Pressure over time"]')(page);
}
async function owner(page) {
  await judged(page);
  await page.getByRole('link', { name: 'One page for the owner' }).click();
  await page.getByText('Your car’s air conditioning: what can be done').waitFor();
}
async function sharedTablet(page) {
  await page.getByLabel('Your key').fill(keys.technician);
  await page.getByText('Several people use this device').click();
  await page.getByRole('button', { name: 'Use this key' }).click();
  await page.getByRole('button', { name: /Ana Ferrer/ }).click();
  await page.keyboard.type('47');
}
async function queried(page) {
  await page.getByRole('button', { name: 'Director' }).click();
  await page.getByRole('button', { name: 'Ask', exact: true }).click();
  await page.getByText(/HTTP 200 after/).waitFor();
}

const HIGHEST = 1_700;
const DESK = [1366, 768];
const TABLET = [820, 1180];
const EXAMPLE = '#/bay?example=high-pass';

/** Name of the picture, address, whose key, size (height null: the whole page, as far as HIGHEST), what is done before, and the theme. */
const picturesOf = ({ line, caseId, vehicleId, importId, webhookId, shopId, platformId }) => [
  ['first-page', '#/', 'technician'],
  ['recurrences', '#/recurrences', 'director'],
  ['recurrences-dark', '#/recurrences', 'director', DESK, null, 'dark'],
  ['grouped', '#/recurrences/grouped', 'director', [1366, null]],
  ['patterns', '#/recurrences/patterns', 'director', [1366, null]],
  ['watches', '#/recurrences/watches', 'director', [1366, null]],
  ['shops', '#/recurrences/shops', 'director', [1366, null]],
  ['records', '#/recurrences/records', 'director', [1366, null]],
  ['charge', '#/recurrences/charge', 'director', [1366, null]],
  ['refrigerant', '#/recurrences/refrigerant', 'director', [1366, null]],
  ['stock', '#/recurrences/stock', 'director', [1366, null]],
  ['costs', '#/recurrences/costs', 'director', [1366, null]],
  ['policies', '#/recurrences/policies', 'director', [1366, null]],
  ['month', '#/recurrences/month', 'director', [1366, null]],
  ['return-curves', `#/recurrences/line?platform=${line.platformId}&fault=${line.fault}&intent=${line.intent}`, 'director', [1366, null]],
  ['repairs', '#/recurrences/repairs?fault=filter-cartridge', 'director'],
  ['cases', '#/recurrences/cases?fault=filter-cartridge', 'director'],
  ['feeds', '#/feeds', 'integrator', [1366, null]],
  ['imports', '#/feeds/imports', 'integrator', [1366, null]],
  ['import', `#/feeds/imports/${importId}`, 'integrator', [1366, null]],
  ['mappings', '#/feeds/mappings', 'integrator', [1366, null]],
  ['webhooks', '#/feeds/webhooks', 'integrator', [1366, null]],
  ['deliveries', `#/feeds/webhooks/${webhookId}`, 'integrator'],
  ['keys', '#/feeds/keys', 'administrator', [1366, null]],
  ['trail', '#/feeds/trail', 'director'],
  ['queries', 'graphiql', 'director', DESK, queried],
  ['shop-list', '#/settings', 'administrator'],
  ['shop', `#/settings/shops/${shopId}`, 'administrator', [1366, null]],
  ['platform-list', '#/settings/platforms', 'administrator'],
  ['platform', `#/settings/platforms/${platformId}`, 'administrator', [1366, null]],
  ['members', '#/settings/members', 'administrator'],
  ['returns', '#/settings/returns', 'administrator'],
  ['leaving', '#/settings/leaving', 'administrator', [1366, null]],
  ['engine', '#/settings/engine', 'administrator', [1366, null]],
  ['bay', EXAMPLE, 'technician', DESK, judged],
  ['bay-typed', EXAMPLE, 'technician', [1366, null]],
  ['bay-circuit', EXAMPLE, 'technician', DESK, section('Where')],
  ['bay-cycle', EXAMPLE, 'technician', DESK, section('Pressure and heat of the refrigerant')],
  ['bay-cycle-dark', EXAMPLE, 'technician', DESK, section('Pressure and heat of the refrigerant'), 'dark'],
  ['bay-offer', EXAMPLE, 'technician', DESK, section('What to offer the owner')],
  ['bay-spots', EXAMPLE, 'technician', DESK, spots],
  ['bay-face', EXAMPLE, 'technician', DESK, face],
  ['bay-trace', EXAMPLE, 'technician', DESK, trace],
  ['owner-page', EXAMPLE, 'technician', [1366, null], owner],
  ['case', `#/bay/case/${caseId}`, 'technician', [1366, null]],
  ['car', `#/bay/vehicle/${vehicleId}`, 'technician', [1366, null]],
  ['shared-tablet', '#/bay', null, DESK, sharedTablet],
  ['tablet-bay', EXAMPLE, 'technician', TABLET, judged],
  ['tablet-case', `#/bay/case/${caseId}`, 'technician', [820, null]],
  ['tablet-cycle-dark', EXAMPLE, 'technician', TABLET, section('Pressure and heat of the refrigerant'), 'dark'],
];

const browser = await chromium.launch({
  executablePath: process.env.COOLBACK_CHROMIUM ?? '/usr/bin/chromium',
  args: ['--headless', '--no-sandbox', '--disable-gpu'],
});
mkdirSync(values.into, { recursive: true });
const wanted = picturesOf(await prepare()).filter(([name]) => values.only === undefined || values.only.some((word) => name.includes(word)));
for (const [name, hash, role, size = DESK, before = null, theme = 'light'] of wanted)
  for (const colorScheme of values.every && !name.endsWith('-dark') ? ['light', 'dark'] : [theme]) {
    const [width, height] = values.width === undefined ? size : [Number(values.width), null];
    const context = await browser.newContext({
      viewport: { width, height: height ?? 768 },
      colorScheme,
      locale: 'en-GB',
      serviceWorkers: 'block',
    });
    if (role !== null) await context.addInitScript(`sessionStorage.setItem('coolback.key', ${JSON.stringify(keys[role])})`);
    const page = await context.newPage();
    page.setDefaultTimeout(180_000);
    page.on('pageerror', (error) => process.stdout.write(`${name}: ${error.message}\n`));
    const file = `${name}${values.every && colorScheme !== theme ? '-dark' : ''}.png`;
    try {
      await page.goto(`${url}/${hash}`);
      if (before) await before(page);
      else await page.locator('main h1').first().waitFor();
      await page.waitForLoadState('networkidle');
      await settled(page);
      if (height === null) {
        // The window itself is made as high as the page: long tables draw what the window shows.
        const whole = await page.evaluate('document.documentElement.scrollHeight');
        await page.setViewportSize({ width, height: Math.min(whole, HIGHEST) });
        await page.evaluate('window.scrollTo(0, 0)');
        await settled(page);
      }
      await page.screenshot({ path: join(values.into, file) });
      process.stdout.write(`${file}\n`);
    } catch (error) {
      process.stdout.write(`${file} FAILED: ${error.message.split('\n')[0]}\n`);
      process.exitCode = 1;
    }
    await context.close();
  }
await browser.close();
