import { statfsSync } from 'node:fs';
import { dirname } from 'node:path';
import { type Casebook, openCasebook } from '#libs/casebook/index.js';
import { assertSafeRole, createPool, dataDirectory, openDatabase, pendingMigrations, serverSecret } from '#libs/database/index.js';
import { ENGINE_VERSION } from '#libs/engine/index.js';
import { readKeyFile } from './key-file.js';

interface Check {
  readonly check: string;
  readonly ok: boolean;
  readonly found: string;
  readonly remedy: string | null;
}

const MIN_FREE_BYTES = 1e9;

/** Looks at what the product needs and says what to do about what is missing. Exit code 1 when anything is. */
export async function doctorCommand(options: { readonly json?: boolean }): Promise<void> {
  const checks: Check[] = [];
  const [major = 0, minor = 0] = process.versions.node.split('.').map(Number);
  const nodeOk = major > 20 || (major === 20 && minor >= 19);
  checks.push({ check: 'Node.js', ok: nodeOk, found: process.versions.node, remedy: nodeOk ? null : 'Install Node.js 20.19 or later.' });
  const disk = statfsSync(dirname(dataDirectory(process.env)));
  const free = disk.bavail * disk.bsize;
  checks.push({
    check: 'disk space',
    ok: free > MIN_FREE_BYTES,
    found: `${(free / 1e9).toFixed(1)} GB free`,
    remedy: free > MIN_FREE_BYTES ? null : 'Free some space, or move the data folder with COOLBACK_DATA_DIR.',
  });
  try {
    const database = await openDatabase(process.env);
    const pool = createPool(database.appUrl, { max: 1 });
    try {
      await assertSafeRole(pool);
      const pending = await pendingMigrations(database.ownerUrl ?? database.appUrl);
      checks.push({
        check: 'database',
        ok: pending.length === 0,
        found: `${database.embedded ? 'embedded' : 'DATABASE_URL'}, ${pending.length} migrations pending`,
        remedy: pending.length === 0 ? null : 'Run "coolback migrate" with DATABASE_OWNER_URL set.',
      });
      if (pending.length === 0) checks.push(await historyCheck(openCasebook(pool, serverSecret(process.env, database.directory))));
    } finally {
      await pool.end();
      await database.close();
    }
  } catch (error) {
    checks.push({
      check: 'database',
      ok: false,
      found: (error as Error).message,
      remedy: 'Read docs/operations.md on the database; its log lies in the data folder.',
    });
  }
  if (options.json) console.log(JSON.stringify(checks));
  else
    for (const one of checks)
      console.log(`${one.ok ? 'ok  ' : 'FAIL'} ${one.check}: ${one.found}${one.remedy ? `\n     ${one.remedy}` : ''}`);
  if (checks.some((one) => !one.ok)) process.exitCode = 1;
}

/** Whether history was judged by the engine that is installed, in the organisations this installation founded. */
async function historyCheck(casebook: Casebook): Promise<Check> {
  const { demo, home } = readKeyFile(dataDirectory(process.env));
  let behind = 0;
  let under = false;
  for (const one of [demo, home]) {
    if (!one) continue;
    const standing = await casebook.rediagnosis.standing(one.orgId);
    behind += standing.behind;
    under ||= standing.isUnderWay;
  }
  return {
    check: 'engine',
    ok: behind === 0 || under,
    found:
      behind === 0
        ? `${ENGINE_VERSION}, no case waits for it`
        : `${ENGINE_VERSION}, ${behind} cases were answered by another engine${under ? '; the worker is judging them again' : ''}`,
    remedy: behind === 0 || under ? null : 'Run "coolback rediagnose", or start the service: it begins by itself.',
  };
}
