import { loadRegion, planRegion } from '#libs/demo/index.js';
import { request, type TestApi, type TestOrganisation, testApi, testOrganisation } from '../support/api.js';
import { type Browser, startBrowser } from './chromium.js';

/** A real server over the first cases of the demo region, and a browser that reaches it and nothing else. */
export interface Region {
  readonly api: TestApi;
  readonly org: TestOrganisation;
  readonly browser: Browser;
  close(): Promise<void>;
}

export async function openRegion(cases: number): Promise<Region> {
  const api = await testApi();
  const org = await testOrganisation(api, 'Demo region');
  const total = planRegion().reduce((sum, { visits }) => sum + visits.length, 0);
  const taskId = await api.casebook.tasks.startTask(org.orgId, 'demo.load', total);
  await loadRegion(api.casebook, org.orgId, { taskId, until: cases });
  const browser = await startBrowser(api.url);
  return {
    api,
    org,
    browser,
    close: async () => {
      await browser.close();
      await api.close();
    },
  };
}

/** What a role's key is answered. */
export const ask = async ({ api, org }: Region, role: keyof TestOrganisation['keys'], path: string) =>
  (await request(api, org.keys[role], 'GET', path)).body;
