import { loadRegion, planRegion } from '#libs/demo/index.js';
import { type TestApi, type TestOrganisation, testApi, testOrganisation } from '../support/api.js';
import { type Browser, startBrowser } from './chromium.js';

export interface DemoBrowser {
  readonly api: TestApi;
  readonly org: TestOrganisation;
  readonly browser: Browser;
  close(): Promise<void>;
}

/** The real server with the first cases of the demo region, and a browser that reaches nothing else. */
export async function demoBrowser(cases: number, flags: readonly string[] = []): Promise<DemoBrowser> {
  const api = await testApi();
  const org = await testOrganisation(api, 'Demo region');
  const total = planRegion().reduce((sum, { visits }) => sum + visits.length, 0);
  const taskId = await api.casebook.tasks.startTask(org.orgId, 'demo.load', total);
  await loadRegion(api.casebook, org.orgId, { taskId, until: cases });
  const browser = await startBrowser(api.url, flags);
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
