import { statfsSync } from 'node:fs';
import { dirname } from 'node:path';
import { assertSafeRole, createPool, dataDirectory, openDatabase, pendingMigrations } from '#libs/database/index.js';

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
