import { readFileSync } from 'node:fs';
import { afterAll, afterEach, beforeAll, describe, expect, it, jest } from '@jest/globals';
import { request } from '../support/api.js';
import { PATIENCE_MS, type Visit } from './chromium.js';
import { eventually } from './eventually.js';
import { keyboardOf } from './keyboard.js';
import { type DemoBrowser, demoBrowser } from './region.js';

/** The director's whole job in a real browser over the first cases of the demo region. Nothing but the server can be reached. */
jest.setTimeout(240_000);

let region: DemoBrowser;
let visit: Visit;

beforeAll(async () => {
  region = await demoBrowser(300);
  const { api, org } = region;
  for (const subject of ['patterns', 'watches'] as const) {
    const { body } = await request(api, org.keys.director, 'POST', `/v1/outcomes/${subject}/scoring`, undefined, {
      'idempotency-key': subject,
    });
    if (subject === 'patterns') await api.casebook.patterns.scorePatterns(org.orgId, body.id);
    else await api.casebook.watches.scoreWatches(org.orgId, body.id);
  }
  visit = await region.browser.open({ key: org.keys.director });
}, 600_000);
afterAll(() => region?.close());
// One tab for all: a page that is gone to by its address alone is not loaded anew.
afterEach(() => {
  expect(visit.troubles()).toEqual([]);
});

/** The same in a tab of its own. */
async function elsewhere(key: string, work: (other: Visit) => Promise<void>): Promise<void> {
  const before = visit;
  visit = await region.browser.open({ key });
  try {
    await work(visit);
    expect(visit.troubles()).toEqual([]);
  } finally {
    await visit.close();
    visit = before;
  }
}

const button = (name: string | RegExp) => visit.page.getByRole('button', { name, exact: typeof name === 'string' });
const text = (words: string | RegExp) => visit.page.getByText(words).first();
const until = (words: string | RegExp) => text(words).waitFor();
const heading = (name: string | RegExp) => visit.page.getByRole('heading', { name }).first().waitFor();

/** What the director's key is answered. */
async function ask(path: string) {
  for (const end = Date.now() + PATIENCE_MS; ; ) {
    const { status, body } = await request(region.api, region.org.keys.director, 'GET', path);
    if (status === 200) return body;
    // A database that had no time for it says so, and is asked again.
    if (status !== 503 || Date.now() > end) throw new Error(`${path}: ${status} ${JSON.stringify(body)}`);
  }
}
const expectNothingFetching = () =>
  eventually(visit.page, "![...document.querySelectorAll('.state')].some((one) => one.textContent.trim().startsWith('Fetching'))");

describe('what comes back', () => {
  it('is seen on the first screen, and a line opens to its curves, definitions and cases', async () => {
    await visit.go('#/recurrences');
    await until('What comes back');
    const served = await ask('/v1/outcomes/recurrences?minimumEpisodes=5');
    const rows = visit.page.locator('.board tbody tr[data-index]');
    await rows.first().waitFor();
    expect(await visit.page.locator('.board').getAttribute('aria-rowcount')).toBe(String(served.lines.length + 1));
    const first = await rows.first().textContent();
    expect(first).toContain(served.lines[0].platformName);
    expect(first).toContain(`${served.lines[0].returns} of ${served.lines[0].episodes}`);
    for (const name of ['Worse than elsewhere', 'One fault after another', 'New of late', 'Shops'])
      expect((await visit.page.getByRole('region', { name, exact: true }).boundingBox())!.y).toBeLessThan(400);
    // Ten lines, or all of them, without scrolling; nothing is cut off at the side.
    const tenth = rows.nth(Math.min(9, served.lines.length - 1));
    const box = await tenth.boundingBox();
    expect(box!.y + box!.height).toBeLessThanOrEqual(768);
    expect(
      await visit.page.evaluate("document.querySelector('.table-wrap').scrollWidth <= document.querySelector('.table-wrap').clientWidth"),
    ).toBe(true);
    await rows.first().getByRole('link').click();
    await until('In numbers');
    await until('The repairs behind it, newest first');
    const { platformId, fault, intent } = served.lines[0];
    const rates = await ask(`/v1/outcomes/return-rates?${new URLSearchParams({ platformId, fault, intent })}`);
    expect(rates.verdict).toBe('estimated');
    await until(new RegExp(`${Math.round(100 * rates.horizons[0].probability)}(\\.\\d)? %`));
    await until('cooling degree-days after the repair');
    await until('repairs that came back, %');
    await until('still followed');
    await visit.page.getByLabel('Read off at').fill('250');
    await until(/^250 cooling degree-days: /);
    await heading(/^The same on every platform/);
    await text('What each figure means').click();
    await until('Aalen–Johansen');
    await visit.page.getByRole('region', { name: 'Cases behind the figure' }).getByRole('link').first().click();
    await until('What was read');
  });

  it('keeps its filters in the address, and the address under a name', async () => {
    await visit.go('#/recurrences');
    await visit.page.getByLabel('Fault', { exact: true }).selectOption('undercharge');
    await visit.page.getByLabel('Repair', { exact: true }).selectOption('temporary');
    await visit.page.getByLabel('Clock', { exact: true }).selectOption('calendar-days');
    await until(/within 180 days|within \d+ days/);
    const kept = new URL(visit.page.url()).hash;
    expect(kept).toContain('fault=undercharge&intent=temporary&clock=calendar-days');
    await visit.page.locator('.board tbody tr').first().waitFor();
    const names = await visit.page.locator('.board tbody th').allInnerTexts();
    expect(names.length).toBeGreaterThan(0);
    expect(names.every((name) => name.endsWith('undercharge'))).toBe(true);
    await text('Saved views').click();
    await visit.page.getByLabel('Keep this view as').fill('Top-ups by the calendar');
    await button('Keep').click();
    await until('Kept as “Top-ups by the calendar”.');
    await visit.go('#/recurrences/shops');
    await heading('Shops');
    await visit.page.reload();
    await text('Saved views').click();
    await visit.page.getByRole('link', { name: 'Top-ups by the calendar' }).click();
    await until(/within 180 days|within \d+ days/);
    expect(new URL(visit.page.url()).hash).toBe(kept);
    await visit.page.getByLabel('Fault', { exact: true }).selectOption('second-circuit');
    await until('No line has enough repairs.');
  });

  it('goes along as CSV without formulas', async () => {
    await visit.go('#/recurrences');
    await visit.page.locator('.board tbody tr').first().waitFor();
    const [file] = await Promise.all([visit.page.waitForEvent('download'), button('CSV').click()]);
    const lines = readFileSync((await file.path())!, 'utf8')
      .trim()
      .split('\r\n');
    expect(lines[0]).toContain('platform,name,family,fault,repair');
    expect(lines).toHaveLength(1 + (await ask('/v1/outcomes/recurrences?minimumEpisodes=5')).lines.length);
    expect(lines.every((line) => !/(^|,)"?[=+@]/.test(line))).toBe(true);
  });

  it('draws the lines in the window only, of any number, and reaches the last by scrolling', async () => {
    const served = await ask('/v1/outcomes/recurrences?minimumEpisodes=5');
    const LINES = 20_000;
    const lines = Array.from({ length: LINES }, (_, i) => ({
      ...served.lines[i % served.lines.length],
      platformId: `00000000-0000-4000-8000-${String(i).padStart(12, '0')}`,
      platformName: `Platform ${i}`,
      probability: 0.9 - (0.8 * i) / LINES,
      low: 0.85 - (0.8 * i) / LINES,
      high: 0.95 - (0.8 * i) / LINES,
    }));
    await elsewhere(region.org.keys.director, async () => {
      // As the server pages: the cursor is the place here.
      await visit.page.route('**/v1/outcomes/recurrences?*', (route) => {
        const asked = new URL(route.request().url()).searchParams;
        const from = Number(asked.get('after') ?? 0);
        const to = from + Number(asked.get('first'));
        const json = asked.has('only')
          ? { ...served, lines: [], total: 0, next: null }
          : { ...served, lines: lines.slice(from, to), total: LINES, next: to < LINES ? String(to) : null };
        return route.fulfill({ json });
      });
      // The page itself notes when a first row was painted: two frames after it came into the document.
      await visit.page.addInitScript(`new MutationObserver((_, watching) => {
        if (document.querySelector('.board tbody tr[data-index]') === null) return;
        watching.disconnect();
        requestAnimationFrame(() => requestAnimationFrame(() => { window.paintedAtMs = performance.now(); }));
      }).observe(document, { childList: true, subtree: true })`);
      await visit.go('#/recurrences');
      await until('Platform 0 ·');
      const tookMs = await eventually<number>(
        visit.page,
        "window.paintedAtMs && window.paintedAtMs - performance.getEntriesByType('resource').find(({ name }) => name.includes('/outcomes/recurrences')).responseEnd",
      );
      console.log(`a board of ${LINES} lines is painted ${Math.round(tookMs)} ms after its answer`);
      const drawn = visit.page.locator('.board tbody tr[data-index]');
      expect(await drawn.count()).toBeLessThan(80);
      const last = text(`Platform ${LINES - 1} ·`);
      await eventually(
        visit.page,
        `(window.scrollTo(0, document.documentElement.scrollHeight),
          document.querySelector('.board tbody')?.textContent.includes('Platform ${LINES - 1} ·'))`,
      );
      await last.waitFor();
      expect(await drawn.count()).toBeLessThan(80);
    });
  });

  it('is worked by keyboard alone: from the board to a line, a policy set and ended, a purchase entered', async () => {
    await elsewhere(region.org.keys.director, async ({ page, go }) => {
      const keys = keyboardOf(page);
      await go('#/recurrences');
      const first = page.locator('.board tbody th a').first();
      await first.waitFor();
      await keys.press((await first.textContent())!);
      await until('The repairs behind it, newest first');
      const before = await page.getByLabel('Read off at').inputValue();
      await keys.to('Read off at');
      await page.keyboard.press('ArrowLeft');
      expect(await page.getByLabel('Read off at').inputValue()).not.toBe(before);
      await page.keyboard.press('Shift+Home');
      await keys.press('Set a policy');
      await keys.choose('Repair', 'Replace filter cartridge');
      await keys.type('Why (shown where the work is done)', 'Tried by keys');
      await keys.press('Set it from today');
      await until('Tried by keys');
      await keys.press('End…');
      await keys.press('End it from today');
      await until('No policy is in force.');
      await keys.press('Stock');
      await heading('Refrigerant in stock');
      await keys.choose('At the shop', /^[A-Z]/);
      await keys.type('Mass of refrigerant, g', '5000');
      await keys.type('Number of its document', 'INV-77');
      await keys.press('Enter it');
      await until(/^Entered: 5,000 g/);
      await page.getByRole('row', { name: /INV-77/ }).waitFor();
      const { data } = await ask('/v1/refrigerant-entries');
      expect(data[0]).toMatchObject({ kind: 'purchase', massG: 5000, document: 'INV-77' });
      await keys.press(/^Take out/);
      await keys.press(/^Really take out/);
      await until('Nothing is entered in this period.');
    });
  });
});

describe('returns told apart', () => {
  it('are asked by up to three dimensions, kept in the address, drawn and listed in words', async () => {
    await visit.go('#/recurrences/grouped?by=intent,fault');
    const served = await ask('/v1/outcomes/grouped-returns?by=intent,fault');
    await heading('By kind of repair and fault');
    const table = visit.page.getByRole('region', { name: 'Every line' }).getByRole('table');
    const first = await table.locator('tbody tr[data-index="0"]').textContent();
    expect(first).toContain(`${served.lines[0].returns} of ${served.lines[0].episodes}`);
    expect(await table.textContent()).not.toMatch(/permanent|temporary/);
    await visit.page.getByLabel('and then by').selectOption({ label: 'climate' });
    await heading('By kind of repair and fault and climate');
    expect(decodeURIComponent(visit.page.url())).toContain('by=intent,fault,climate');
    await visit.page.getByLabel('Clock', { exact: true }).selectOption({ label: 'distance driven' });
    await until(/Chance to be back within [\d,]+ km/);
    const [csv] = await Promise.all([visit.page.waitForEvent('download'), button('CSV of every line').click()]);
    expect(readFileSync((await csv.path())!, 'utf8')).toMatch(/^intent,fault,climate,/);
  });

  it('a line is read by distance too, with the share as if all returns were seen beside the observed one', async () => {
    const { platformId, fault, intent } = (await ask('/v1/outcomes/recurrences?minimumEpisodes=5')).lines[0];
    const question = { platformId, fault, intent, clock: 'distance' };
    const rates = await ask(`/v1/outcomes/return-rates?${new URLSearchParams(question)}`);
    await visit.go(`#/recurrences/line?platform=${platformId}&fault=${fault}&intent=${intent}&clock=distance`);
    await until('km after the repair');
    const shown = visit.page.getByRole('region', { name: 'The same in numbers' });
    await shown.getByText('were seen').first().waitFor();
    for (const { weighted } of rates.linkageWeighted)
      if (weighted !== null)
        expect(await shown.textContent()).toMatch(new RegExp(`${(100 * weighted).toFixed(weighted < 0.095 ? 1 : 0)} %`));
  });
});

describe('stock', () => {
  it('machines and cylinders are added, and a stock take of one shows in the books', async () => {
    await visit.go('#/recurrences/stock');
    await heading('Machines');
    await text('Add a cylinder').click();
    const cylinder = visit.page.getByRole('form', { name: 'Add a cylinder' });
    await cylinder.getByLabel('It stands at').selectOption({ index: 1 });
    await cylinder.getByLabel('Label on the cylinder').fill('C-9');
    await cylinder.getByLabel('Refrigerant it may hold, g').fill('12000');
    await cylinder.getByRole('button', { name: 'Add a cylinder' }).click();
    await visit.page.getByRole('row', { name: /^C-9/ }).waitFor();
    await text('Add a machine').click();
    const machine = visit.page.getByRole('form', { name: 'Add a machine' });
    await machine.getByLabel('It stands at').selectOption({ index: 1 });
    await machine.getByLabel('Name of the machine').fill('Bay 9');
    await machine.getByLabel('Its scale errs by at most, g').fill('10');
    await machine.getByRole('button', { name: 'Add a machine' }).click();
    await visit.page
      .getByRole('row', { name: /^Bay 9/ })
      .getByRole('button', { name: /^Checked today/ })
      .click();
    await visit.page
      .getByRole('row', { name: /^Bay 9/ })
      .getByText('never')
      .waitFor({ state: 'detached' });
    const entry = visit.page.getByRole('form', { name: 'Make an entry' });
    await entry.getByLabel('What happened').selectOption('stock-take');
    await entry.getByLabel('At the shop').selectOption({ index: 1 });
    await entry.getByLabel('Counted in').selectOption({ label: 'cylinder C-9' });
    await entry.getByLabel('Mass of refrigerant, g').fill('20000');
    await button('Enter it').click();
    await until(/more than the 12000 g this cylinder may hold/);
    expect(visit.troubles().every((one) => /422/.test(one))).toBe(true);
    await entry.getByLabel('Mass of refrigerant, g').fill('8000');
    await button('Enter it').click();
    await visit.page.getByRole('row', { name: /Counted.*8,000.*C-9/ }).waitFor();
    // Each is corrected where it stands.
    await button(/^Change 8,000 g of/).click();
    await visit.page
      .getByRole('form', { name: /^Change 8,000 g of/ })
      .getByLabel('Mass, g')
      .fill('7900');
    await button(/^Save 8,000 g of/).click();
    await visit.page.getByRole('row', { name: /Counted.*7,900.*C-9/ }).waitFor();
    await button('Change C-9').click();
    await visit.page.getByRole('form', { name: 'Change C-9' }).getByLabel('Label').fill('C-10');
    await button('Save C-9').click();
    await visit.page.getByRole('row', { name: /^C-10/ }).waitFor();
    await button('Change Bay 9').click();
    await visit.page.getByRole('form', { name: 'Change Bay 9' }).getByLabel('Name').fill('Bay 12');
    await button('Save Bay 9').click();
    await visit.page.getByRole('row', { name: /^Bay 12/ }).waitFor();
    const { data } = await ask('/v1/refrigerant-entries');
    expect(data[0]).toMatchObject({ kind: 'stock-take', massG: 7900 });
    await visit.go('#/recurrences/refrigerant');
    await until(/^The books, kg; newest month first\./);
  });
});

describe('shops', () => {
  it('shows the records first, then the funnel; each plot is read off by keys and taken along as figures and as a picture', async () => {
    const review = await ask('/v1/outcomes/shops');
    await visit.go('#/recurrences/shops');
    await heading('First: how far the records can be trusted');
    const records = await visit.page.getByRole('region', { name: 'How far the records can be trusted' }).boundingBox();
    const funnel = visit.page.getByRole('region', { name: 'Funnel' });
    expect((await funnel.boundingBox())!.y).toBeGreaterThan(records!.y);
    await funnel.getByLabel('Read off').focus();
    await visit.page.keyboard.press('Home');
    const read = await funnel.locator('output').textContent();
    expect(read).toContain(review.shops[0].shopName);
    expect(read).toContain(`${review.shops[0].observed} return`);
    await visit.page.keyboard.press('ArrowRight');
    expect(await funnel.locator('output').textContent()).toContain(review.shops[1].shopName);
    const [picture] = await Promise.all([visit.page.waitForEvent('download'), funnel.getByRole('button', { name: /^PNG/ }).click()]);
    const png = readFileSync((await picture.path())!);
    // Portable Network Graphics, third edition, 5.2 and 11.2.1: signature, then width and height in the header.
    expect(png.subarray(0, 8)).toEqual(Buffer.from([0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a]));
    expect(png.readUInt32BE(16)).toBe(2 * 1080);
    const [csv] = await Promise.all([visit.page.waitForEvent('download'), funnel.getByRole('button', { name: /^CSV/ }).click()]);
    expect(
      readFileSync((await csv.path())!, 'utf8')
        .trim()
        .split('\r\n').length,
    ).toBe(1 + review.shops.filter(({ expected }: { expected: number }) => expected > 0).length);
    await funnel.getByText('The same as a table').click();
    await funnel.getByRole('row').nth(1).waitFor();
    await visit.page
      .getByRole('link', { name: /^Repairs of/ })
      .first()
      .click();
    await until('The repairs behind it, newest first');
    expect(visit.page.url()).toContain(`shop=${review.shops[0].shopId}`);
  });
});

describe('records of the work', () => {
  it.each([
    ['records', 'Evidence', /^Share of cases with cause proved/],
    ['charge', 'Charge', /^Off the specified charge/],
    ['refrigerant', 'Refrigerant', /^Charged and recovered, all shops/],
    ['costs', 'Costs of returns', /^Work done again, for each repair/],
  ] as const)('%s: figures with their intervals, definitions and cases', async (part, name, plot) => {
    await visit.go(`#/recurrences/${part}?since=2020-01-01`);
    await heading(name);
    await heading(plot);
    expect(await visit.page.getByLabel('From', { exact: true }).inputValue()).toBe('2020-01-01');
    await visit.page.getByLabel('Read off').first().focus();
    await visit.page.keyboard.press('End');
    expect((await visit.page.locator('output').first().textContent())!.length).toBeGreaterThan(10);
    await text('What each figure means').click();
    await expectNothingFetching();
    const behind = visit.page
      .locator('main')
      .locator(':is(a[href*="/recurrences/repairs"], a[href*="/recurrences/cases"]):visible')
      .first();
    if ((await behind.count()) === 0) await text('The same as a table').click();
    // By keys: a row that is measured anew between the press and the release of a mouse moves away under it.
    await behind.focus();
    await visit.page.keyboard.press('Enter');
    await heading(/^(Repairs|Cases)/);
    await visit.page.locator('main a[href^="#/bay/case/"]').first().waitFor();
  });

  it('says so when there is nothing in the period', async () => {
    for (const [part, sign] of [
      ['records', 'No cases in this period.'],
      ['charge', 'No charge was weighed in this period.'],
      ['refrigerant', 'No refrigerant was handled in this period.'],
      ['costs', 'No return in this period.'],
      ['repairs', 'No such repair is recorded.'],
      ['cases', 'No such case.'],
    ] as const) {
      await visit.go(`#/recurrences/${part}?since=2001-01-01&until=2001-02-01`);
      await until(sign);
    }
  });
});

describe('patterns and watches', () => {
  it('weighs pairs, or says that there are too few, and shows the evidence of one', async () => {
    const board = await ask('/v1/outcomes/patterns?include=all');
    expect(board.scoredAt).not.toBeNull();
    await visit.go('#/recurrences/patterns?include=all');
    await heading('One fault after another');
    if (board.patterns.length === 0) {
      await until('No pair of faults is found here.');
      return;
    }
    await heading('How many times as often');
    await heading('How long it takes');
    await until('Negative control: the other way round');
    const last = visit.page.locator('.chooser tbody th a').last();
    const name = await last.textContent();
    await last.click();
    await heading(name!);
    expect(visit.page.url()).toMatch(/cause=.*effect=/);
  });

  it('states how often an alarm is false, or that there is not enough to watch', async () => {
    const board = await ask('/v1/outcomes/watches?include=all');
    await visit.go('#/recurrences/watches?include=all');
    await heading('What is new');
    await until(board.verdict === 'watched' ? /alarms? a year is to be expected/ : 'There is not enough to watch yet.');
  });
});

describe('policies', () => {
  it('are set from a line, shown with adherence, and ended after a second press', async () => {
    const { platformId } = (await ask('/v1/outcomes/recurrences?fault=filter-cartridge&minimumEpisodes=1')).lines[0];
    await visit.go(`#/recurrences/line?platform=${platformId}&fault=filter-cartridge&intent=temporary`);
    await visit.page.getByRole('link', { name: 'Set a policy' }).click();
    await visit.page.getByLabel('Repair', { exact: true }).selectOption('replace-filter-cartridge');
    await visit.page.getByLabel('Why (shown where the work is done)').fill('It lasts one season here');
    await button('Set it from today').click();
    await heading(/^Not: replace filter cartridge/);
    await heading('Is it followed?');
    await heading('Did it work?');
    await until('It lasts one season here');
    await button('End…').click();
    await button('End it from today').click();
    await until('No policy is in force.');
    const { data } = await ask('/v1/policies?state=all');
    const set = data.filter(({ note }: { note: string | null }) => note === 'It lasts one season here');
    expect(set.length).toBe(1);
    expect(set[0].endedOn).not.toBeNull();
  });

  it('are read, not set, by a technician', async () => {
    await elsewhere(region.org.keys.technician, async ({ go }) => {
      await go('#/recurrences/policies');
      await until('Policies are set by directors.');
      expect(await button('Set it from today').count()).toBe(0);
      await go('#/recurrences/stock');
      await heading('Make an entry');
      expect(await text('Add a machine').count()).toBe(0);
    });
  });
});

describe('the month', () => {
  it('stands on one page and prints without the frame', async () => {
    await visit.go('#/recurrences/month?month=2026-07');
    await heading('July 2026');
    await until('What is new this month');
    await until(/repairs? of this period have come back so far/);
    await expectNothingFetching();
    await visit.page.emulateMedia({ media: 'print' });
    expect(await visit.page.locator('.masthead').isVisible()).toBe(false);
    expect(await visit.page.locator('.page-nav').isVisible()).toBe(false);
    expect(await visit.page.getByRole('heading', { name: 'The month’s work' }).isVisible()).toBe(true);
    await visit.page.emulateMedia({ media: 'screen' });
  });
});
