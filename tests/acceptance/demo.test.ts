import { afterAll, beforeAll, describe, expect, it } from '@jest/globals';
import { ROLE_PERMISSIONS } from '#libs/casebook/index.js';
import { vinCheckDigit } from '#libs/casebook/vehicles/vin.js';
import { drawsOf } from '#libs/demo/draws.js';
import { DEBRIS_PLATFORMS, DEMO_ORGANISATION, DEMO_PLATFORMS, DEMO_SHOPS, loadRegion, planRegion, WEAK_SHOP } from '#libs/demo/index.js';
import { DEMO_SEED } from '#libs/demo/plan.js';
import { FULL_SCALE } from '#libs/demo/region.js';
import { weighedOf } from '#libs/demo/weighed.js';
import { type TestApi, testApi } from '../support/api.js';

describe('the plan of the demo region', () => {
  const plan = planRegion();
  const visits = plan.flatMap((vehicle) => vehicle.visits.map((visit) => ({ ...visit, platform: DEMO_PLATFORMS[vehicle.platform]!.code })));

  it('is the same every time, and large enough', () => {
    expect(JSON.stringify(planRegion())).toBe(JSON.stringify(plan));
    expect(visits.length).toBeGreaterThanOrEqual(24_000);
  });

  it('has shops from the sea to 2,300 m in three climates, and platforms of all layouts, compressors and refrigerants', () => {
    expect(DEMO_SHOPS.length).toBeGreaterThanOrEqual(8);
    expect(Math.max(...DEMO_SHOPS.map((shop) => shop.elevationM))).toBe(2300);
    expect(new Set(DEMO_PLATFORMS.map((platform) => platform.layout)).size).toBe(3);
    expect(new Set(DEMO_PLATFORMS.map((platform) => platform.compressor)).size).toBe(4);
    expect(new Set(DEMO_PLATFORMS.map((platform) => platform.refrigerant)).size).toBe(2);
    expect(DEMO_PLATFORMS.length).toBeGreaterThanOrEqual(14);
  });

  it('has proper VINs, each once', () => {
    const vins = plan.flatMap((vehicle) => vehicle.vin ?? []);
    expect(new Set(vins).size).toBe(vins.length);
    for (const vin of vins.slice(0, 500)) expect(vinCheckDigit(vin)).toBe(vin[8]);
  });

  it('hides what docs/demo.md says: debris follows wear on some platforms, and one shop is weak', () => {
    const followed = (debris: boolean) => {
      let worn = 0;
      let clogged = 0;
      for (const vehicle of plan.filter((one) => DEBRIS_PLATFORMS.has(DEMO_PLATFORMS[one.platform]!.code) === debris)) {
        for (const [i, visit] of vehicle.visits.entries()) {
          if (visit.fault !== 'compressor-wear') continue;
          worn++;
          if (vehicle.visits[i + 1]?.fault === 'condenser-passages') clogged++;
        }
      }
      return clogged / worn;
    };
    expect(followed(true)).toBeGreaterThan(4 * followed(false));
    const weak = DEMO_SHOPS.findIndex((shop) => shop.code === WEAK_SHOP);
    const cameBack = (of: (shop: number) => boolean) => {
      const all = plan
        .flatMap((vehicle) => vehicle.visits.map((visit, i) => ({ visit, next: vehicle.visits[i + 1] })))
        .filter(({ visit }) => of(visit.shop));
      return all.filter(({ visit, next }) => next?.fault === visit.fault).length / all.length;
    };
    expect(cameBack((shop) => shop === weak)).toBeGreaterThan(1.4 * cameBack((shop) => shop !== weak));
  });
});

describe('what is weighed in the demo region', () => {
  it('scatters about the specified charge, and is too much at the one shop whose scale is off', () => {
    const errors = new Map<string, number[]>();
    for (const { index, visits, platform } of planRegion())
      for (const [i, { shop, repairs }] of visits.entries()) {
        const { chargeG } = DEMO_PLATFORMS[platform]!;
        const { code } = DEMO_SHOPS[shop]!;
        const { recoveredG, chargedG } = weighedOf(repairs[0]!, chargeG, code, drawsOf(DEMO_SEED + 2, index * 16 + i));
        if (recoveredG !== null) errors.set(code, [...(errors.get(code) ?? []), chargedG! / chargeG - 1]);
      }
    expect(errors.size).toBe(DEMO_SHOPS.length);
    for (const [code, all] of errors) {
      const mean = all.reduce((sum, one) => sum + one, 0) / all.length;
      // The gross slips draw every mean down by their share: 0.04 x (0.3 - 0.7) x 0.2.
      expect(Math.abs(mean + 0.0032 - (code === FULL_SCALE.shop ? FULL_SCALE.share : 0))).toBeLessThan(0.01);
      expect(new Set(all).size).toBeGreaterThan(20);
    }
  });
});

describe('loading it', () => {
  const { orgId } = DEMO_ORGANISATION;
  const actor = {
    orgId,
    credentialId: orgId,
    role: 'administrator' as const,
    permissions: ROLE_PERMISSIONS.administrator,
    shopIds: null,
    requestId: 'test',
  };
  let api: TestApi;
  beforeAll(async () => {
    api = await testApi();
    await api.casebook.access.foundOrganisation({ ...DEMO_ORGANISATION, demo: true });
  });
  afterAll(() => api?.close());

  it('goes on where it was interrupted, and shows recurrences at once', async () => {
    const taskId = await api.casebook.tasks.startTask(orgId, 'demo.load', 24_000);
    const first = await loadRegion(api.casebook, orgId, { taskId, until: 40 });
    let renewed = 0;
    const second = await loadRegion(api.casebook, orgId, { taskId, until: 120, onFirstBatch: async () => void renewed++ });
    expect(renewed).toBe(1);
    expect(first).toBeGreaterThanOrEqual(40);
    expect(second).toBeGreaterThanOrEqual(120);
    let cases = 0;
    for (let after: string | undefined; ; ) {
      const page = await api.casebook.cases.listCases(actor, {}, { first: 100, ...(after ? { after } : {}) });
      cases += page.data.length;
      if (page.next === null) break;
      after = page.next;
    }
    expect(cases).toBe(second);
    const board = await api.casebook.boards.recurrences(actor, { minimumEpisodes: 1 });
    expect(board.episodes).toBeGreaterThan(80);
    expect(board.lines.length).toBeGreaterThan(10);
    expect(board.linkedShare).toBeGreaterThan(0.85);
    const task = await api.casebook.tasks.getTask(actor, taskId);
    expect(task).toMatchObject({ done: second, state: 'running' });
  });
});
