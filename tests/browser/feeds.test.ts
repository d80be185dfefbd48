import { createServer, type Server } from 'node:http';
import type { AddressInfo } from 'node:net';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it, jest } from '@jest/globals';
import { importCases } from '#apps/worker/jobs/import-cases.job.js';
import { newPlatform, newShop, request, type TestApi, type TestOrganisation, testApi, testOrganisation } from '../support/api.js';
import { type Browser, startBrowser, type Visit } from './chromium.js';
import { keyboardOf } from './keyboard.js';

/** The integrator's whole job in a real browser: a file sent, rows repaired, a mapping, a webhook heard, keys. Nothing but the server is reached. */
jest.setTimeout(240_000);

let api: TestApi;
let org: TestOrganisation;
let browser: Browser;
let visit: Visit;
let receiver: Server;
let heard: string[] = [];

beforeAll(async () => {
  api = await testApi({ webhooksToLoopback: true });
  org = await testOrganisation(api, 'Eastern shops');
  await request(api, org.keys.administrator, 'POST', '/v1/shops', newShop('quay'));
  await request(api, org.keys.administrator, 'POST', '/v1/platforms', newPlatform('knot-r'));
  receiver = createServer((incoming, outgoing) => {
    heard.push(String(incoming.headers['webhook-id']));
    outgoing.writeHead(204).end();
  });
  await new Promise<void>((done) => receiver.listen(0, '127.0.0.1', done));
  browser = await startBrowser(api.url);
}, 600_000);
afterAll(async () => {
  await browser?.close();
  receiver?.close();
  await api?.close();
});
beforeEach(async () => {
  heard = [];
  visit = await browser.open({ key: org.keys.integrator });
});
afterEach(async () => {
  expect(visit.troubles()).toEqual([]);
  await visit.close();
});

const button = (name: string | RegExp) => visit.page.getByRole('button', { name, exact: typeof name === 'string' });
const until = (words: string | RegExp) => visit.page.getByText(words).first().waitFor();
const as = async (role: keyof TestOrganisation['keys']) => {
  await visit.close();
  visit = await browser.open({ key: org.keys[role] });
};
/** Sends a file from the page, and comes to the page of its import. */
const send = async (name: string, content: string, mapping?: string) => {
  await visit.go('#/feeds/imports');
  await until('Send a file');
  await visit.page.getByLabel('File', { exact: true }).setInputFiles({ name, mimeType: 'text/csv', buffer: Buffer.from(content) });
  if (mapping !== undefined) await visit.page.getByLabel('Mapping', { exact: true }).selectOption({ label: mapping });
  await button('Send it').click();
  await until('What became of each row');
  return visit.page.url().split('/').at(-1)!;
};

describe('a file', () => {
  it('is watched live, and a rejected row is repaired from its own messages where it stands', async () => {
    const id = await send(
      'orders.csv',
      'shop_code,system,reference,revision,vin,platform_code,opened_at,complaint\n' +
        'quay,orders,F-1,1,1M8GDM9AXKP042788,knot-r,2026-05-04T09:00:00Z,cools-poorly\n' +
        'quay,orders,F-2,1,,knot-r,2026-05-05T09:00:00Z,cools-porly\n',
    );
    await until('Waiting for the worker');
    await importCases(api.casebook, org.orgId, id, { isLastTry: true });
    // No reload: the stream of events tells the page.
    await until('Done');
    await until(/Did you mean "cools-poorly"/);
    await button(/^Repair/).click();
    await visit.page
      .getByRole('region', { name: /^Repair of line/ })
      .getByLabel('complaint')
      .fill('cools-poorly');
    await button('Put these in and try again').click();
    // Nothing is rejected any more: every row is shown by itself.
    await until('after correction');
    const { body } = await request(api, org.keys.integrator, 'GET', `/v1/imports/${id}`);
    expect(body).toMatchObject({ opened: 2, rejected: 0 });
    await visit.page
      .getByRole('link', { name: /^Open the case of line/ })
      .first()
      .click();
    await until('What was read');
  });

  it('is read with a mapping made here; all rejected rows are tried again with the mapping as it is then', async () => {
    await visit.go('#/feeds/mappings');
    await until('No mapping is saved yet.');
    const save = async (headings: readonly (readonly [string, string])[]) => {
      for (const [i, [heading, field]] of headings.entries()) {
        await button('Add a column').click();
        const at = (await visit.page.getByLabel(/^Heading \d+ in the file$/).count()) - 1;
        await visit.page
          .getByLabel(/^Heading \d+ in the file$/)
          .nth(at)
          .fill(heading);
        await visit.page.getByLabel(`is the field (${at + 1})`).selectOption(field);
        expect(i).toBeLessThan(10);
      }
      await button('Save the mapping').click();
    };
    await visit.page.getByLabel('Name', { exact: true }).fill('Tills');
    await save([
      ['Shop', 'shop_code'],
      ['Order', 'reference'],
      ['System', 'system'],
      ['Wrong', 'complaint'],
      ['Day', 'opened_at'],
    ]);
    await visit.page.getByRole('row', { name: /^Tills/ }).waitFor();
    const id = await send('tills.csv', 'Shop;Order;System;Wrong;Day\nquay;T-1;tills;cools-poorly;03/04/2026\n', 'Tills');
    await importCases(api.casebook, org.orgId, id, { isLastTry: true });
    await until('Done');
    await button(/^Repair/).waitFor();
    await visit.go('#/feeds/mappings');
    await button(/^Change Tills/).click();
    await visit.page.getByLabel('Order of dates').selectOption('day-month-year');
    await button('Save the mapping').click();
    await visit.page.getByRole('heading', { name: 'A new mapping' }).waitFor();
    await visit.go(`#/feeds/imports/${id}`);
    await button(/^Try all 1 again/).click();
    await until('Waiting for the worker');
    await importCases(api.casebook, org.orgId, id, { isLastTry: true });
    await until('Done');
    const { body } = await request(api, org.keys.integrator, 'GET', `/v1/imports/${id}`);
    expect(body).toMatchObject({ opened: 1, rejected: 0, mapping: 'Tills' });
  });

  it('of NDJSON is repaired as a whole line; rejected rows go along as a file', async () => {
    const line = {
      shopCode: 'quay',
      vehicle: {},
      complaint: 'noisy-noise',
      openedAt: '2026-05-04T09:00:00Z',
      source: { system: 'orders', reference: 'J-1', revision: 1 },
    };
    const id = await send('orders.ndjson', `${JSON.stringify(line)}\n`);
    await importCases(api.casebook, org.orgId, id, { isLastTry: true });
    await until('Done');
    const [file] = await Promise.all([visit.page.waitForEvent('download'), button('as NDJSON').click()]);
    expect(file.suggestedFilename()).toMatch(/^rejected-.*\.ndjson$/);
    // Named here: the page shows the rejected rows first only where it opens on a file that has been worked through.
    await visit.page.getByLabel('Show').selectOption({ label: 'Rejected' });
    await button(/^Repair/).click();
    await visit.page.getByLabel('The whole line as it should be, in JSON').fill('{ not json');
    await button('Put this in its place').click();
    expect(await visit.page.getByLabel('The whole line as it should be, in JSON').getAttribute('aria-invalid')).toBe('true');
    await visit.page.getByLabel('The whole line as it should be, in JSON').fill(JSON.stringify({ ...line, complaint: 'noise' }));
    await button('Put this in its place').click();
    await until('No such row.');
  });
});

describe('a webhook', () => {
  it('is added with its secret shown once, hears an event, hears it again, and is removed after a second press', async () => {
    // What happened before is fanned out to nobody.
    await api.casebook.delivery.fanOut(org.orgId);
    await visit.go('#/feeds/webhooks');
    await until('No address is told of events yet.');
    const url = `http://127.0.0.1:${(receiver.address() as AddressInfo).port}/hook`;
    await visit.page.getByLabel('Address', { exact: true }).fill(url);
    await visit.page.getByLabel('case.opened').check();
    await button('Add it').click();
    await until(/^whsec_/);
    await button('I have kept it').click();
    expect(await visit.page.getByText(/^whsec_/).count()).toBe(0);
    await request(api, org.keys.integrator, 'POST', '/v1/cases', { shopCode: 'quay', vehicle: {}, complaint: 'noise' });
    await api.casebook.delivery.fanOut(org.orgId);
    const { body } = await request(api, org.keys.integrator, 'GET', '/v1/webhooks');
    const id = body.data[0].id;
    const waiting = async () =>
      (await request(api, org.keys.integrator, 'GET', `/v1/webhooks/${id}/deliveries`)).body.data.filter(
        ({ state }: { state: string }) => state === 'waiting',
      );
    for (const one of await waiting()) await api.casebook.delivery.deliver(org.orgId, one.id);
    expect(heard).toHaveLength(1);
    await visit.page.getByRole('link', { name: url }).click();
    await until('Delivered');
    await button(/^Send again/).click();
    await until(/^Waiting/);
    for (const one of await waiting()) await api.casebook.delivery.deliver(org.orgId, one.id);
    expect(heard).toHaveLength(2);
    expect(heard[1]).toBe(heard[0]);
    await visit.page.getByRole('link', { name: 'All webhooks' }).click();
    await button(/^Remove/).click();
    await button(/^Really remove/).click();
    await until('No address is told of events yet.');
  });
});

describe('keys', () => {
  it('are made and shown once, rotated with an overlap, and revoked', async () => {
    await as('administrator');
    await visit.go('#/feeds/keys');
    await visit.page.getByLabel('What it is for').fill('Order system');
    await button('Make it').click();
    const shown = visit.page.locator('pre code').first();
    await shown.waitFor();
    const secret = (await shown.textContent())!;
    expect((await request(api, secret, 'GET', '/v1/me')).body.role).toBe('integrator');
    await button('I have kept it').click();
    expect(await visit.page.getByText(secret).count()).toBe(0);
    await button('Rotate Order system').click();
    await button('Really rotate Order system').click();
    await shown.waitFor();
    const next = (await shown.textContent())!;
    expect(next).not.toBe(secret);
    expect((await request(api, secret, 'GET', '/v1/me')).status).toBe(200);
    await button('I have kept it').click();
    const row = visit.page.getByRole('row', { name: new RegExp(`Order system …${next.slice(-4)}`) });
    await row.getByRole('button', { name: /^Revoke/ }).click();
    await row.getByRole('button', { name: /^Really revoke/ }).click();
    await row.getByText(/^revoked/).waitFor();
    expect((await request(api, next, 'GET', '/v1/me')).status).toBe(401);
  });
});

describe('pushing and asking', () => {
  it('shows a request with the key that works as it stands', async () => {
    await visit.go('#/feeds');
    await button('Show the key').click();
    const shown = (await visit.page.locator('pre code').first().textContent()) ?? '';
    expect(shown).toContain(org.keys.integrator);
    const body = /-d '(.*)'/s.exec(shown)?.[1];
    const pushed = await request(api, org.keys.integrator, 'POST', '/v1/cases', body, { 'idempotency-key': 'second-order' });
    expect(pushed.status).toBe(201);
    await button('Look again').click();
    await until('my-orders A-1002, revision 1');
  });

  it('asks in GraphQL without leaving this server', async () => {
    await as('technician');
    await visit.go('graphiql');
    await until('Queries');
    for (const preset of ['Director', 'Technician', 'Integrator']) {
      await button(preset).click();
      const [reply] = await Promise.all([visit.page.waitForResponse(/\/graphql$/), button('Ask').click()]);
      expect(reply.status()).toBe(200);
      await until(/HTTP 200 after/);
      expect(await reply.json()).not.toHaveProperty('errors.0');
    }
    await button('CaseSummaryConnection!').click();
    await until('CaseSummaryConnection');
  });
});

describe('by keyboard alone', () => {
  it('a file is sent, its row repaired, an address added and removed, the use of the key read', async () => {
    const keys = keyboardOf(visit.page);
    await visit.go('#/feeds/imports');
    await until('Send a file');
    await keys.to('File');
    const chosen = visit.page.waitForEvent('filechooser');
    // Commands are answered in their order: after this answer the browser asks us for the file instead of its own dialog.
    await visit.page.evaluate('0');
    await visit.page.keyboard.press('Enter');
    const chooser = await chosen;
    const content = 'shop_code,system,reference,revision,opened_at,complaint\nquay,orders,K-1,1,2026-05-04T09:00:00Z,noize\n';
    await chooser.setFiles({ name: 'orders.csv', mimeType: 'text/csv', buffer: Buffer.from(content) });
    await keys.press('Send it');
    await until('What became of each row');
    await importCases(api.casebook, org.orgId, visit.page.url().split('/').at(-1)!, { isLastTry: true });
    await until('Done');
    await keys.press(/^Repair/);
    await keys.type('complaint', 'noise');
    await keys.press('Put these in and try again');
    await until('after correction');
    await keys.press('Webhooks');
    await until('No address is told of events yet.');
    await keys.type('Address', `http://127.0.0.1:${(receiver.address() as AddressInfo).port}/keys`);
    await keys.tick('case.opened');
    await keys.press('Add it');
    await until(/^whsec_/);
    await keys.press('I have kept it');
    await keys.press(/^Remove/);
    await keys.press(/^Really remove/);
    await until('No address is told of events yet.');
    await api.casebook.usage.writeDown();
    await keys.press('Keys and their use');
    await visit.page.getByRole('row', { name: /^integrator/ }).waitFor();
    await keys.to('Read off');
    expect(await visit.page.locator('output').first().textContent()).toMatch(/[1-9]\d* requests?, \d+ refused/);
  });
});
