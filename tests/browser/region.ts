import { loadRegion, planRegion } from '#libs/demo/index.js';
import { diagnose } from '#libs/engine/index.js';
import { type TestApi, type TestOrganisation, testApi, testOrganisation } from '../support/api.js';
import { asAdministrator } from '../support/database.js';
import { type Browser, startBrowser } from './chromium.js';

export interface DemoBrowser {
  readonly api: TestApi;
  readonly org: TestOrganisation;
  readonly browser: Browser;
  close(): Promise<void>;
}

/**
 * The engine reads its calibration and builds its tables when it is first asked: on a busy machine that takes longer than the loads beside it may
 * wait for a lock, so it is asked before any transaction is open.
 */
function warmUp(): void {
  for (const refrigerant of ['R-134a', 'R-1234yf'] as const)
    diagnose({
      platform: { layout: 'valve-receiver', compressor: 'fixed-clutch', refrigerant },
      conditions: { outsideAirK: 303 },
      readings: [{ id: 'r1', quantity: 'pressure', place: 'low-side-port', phase: 'running', value: 2e5 }],
      findings: [],
      thermalMaps: [],
      traces: [],
    });
}

/** The real server with the first cases of the demo region, and a browser that reaches nothing else. */
export async function demoBrowser(cases: number, flags: readonly string[] = []): Promise<DemoBrowser> {
  const api = await testApi();
  const org = await testOrganisation(api, 'Demo region');
  warmUp();
  const total = planRegion().reduce((sum, { visits }) => sum + visits.length, 0);
  const taskId = await api.casebook.tasks.startTask(org.orgId, 'demo.load', total);
  await loadRegion(api.casebook, org.orgId, { taskId, until: cases });
  // As the server does by itself within minutes: plans made for empty tables are slow ones.
  await asAdministrator(api.database.superUrl, (client) => client.query('analyze'));
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
