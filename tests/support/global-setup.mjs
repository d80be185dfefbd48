// Gives the run a folder of its own. The database server is started by the first test file that asks for one (`database.ts`),
// so that a run of pure science tests starts none.
import { chmodSync, mkdtempSync, readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { clearUp } from './global-teardown.mjs';

const PREFIX = 'coolback-test-';

export default async function setUp() {
  await clearUpAbandoned();
  const folder = mkdtempSync(join(tmpdir(), PREFIX));
  chmodSync(folder, 0o755); // the server's account passes through
  writeFileSync(join(folder, 'run.pid'), String(process.pid));
  process.env.COOLBACK_TEST_RUN = folder;
}

/** Runs that were killed left their servers running. */
async function clearUpAbandoned() {
  for (const name of readdirSync(tmpdir()).filter((entry) => entry.startsWith(PREFIX))) {
    const folder = join(tmpdir(), name);
    try {
      process.kill(Number(readFileSync(join(folder, 'run.pid'), 'utf8')), 0);
    } catch (error) {
      if (error.code === 'ESRCH') await clearUp(folder);
    }
  }
}
