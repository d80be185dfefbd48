import { spawn } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from '@jest/globals';
import { migrationsDirectory } from '#libs/database/index.js';
import { type TestDatabase, testDatabase } from '../support/database.js';

const PRISMA = join(migrationsDirectory(), '..');
let database: TestDatabase;
let folder: string;

beforeAll(async () => {
  database = await testDatabase();
  folder = mkdtempSync(join(tmpdir(), 'coolback-drift-'));
});
afterAll(async () => {
  rmSync(folder, { recursive: true, force: true });
  await database.close();
});

/** Prisma's own comparison of what the migrations make with what the schema says: 0 equal, 2 different, 1 failed. */
function prisma(args: readonly string[]): Promise<{ code: number | null; output: string }> {
  return new Promise((resolve, reject) => {
    const child = spawn(process.execPath, [join(PRISMA, 'cli.mjs'), ...args], {
      env: { ...process.env, NODE_OPTIONS: '', DATABASE_OWNER_URL: database.superUrl },
      stdio: ['ignore', 'pipe', 'pipe'],
    });
    let output = '';
    for (const stream of [child.stdout, child.stderr]) stream.setEncoding('utf8').on('data', (text: string) => (output += text));
    child.once('error', reject).once('close', (code) => resolve({ code, output }));
  });
}
const diff = (schema: string) =>
  prisma(['migrate', 'diff', '--from-migrations', join(PRISMA, 'migrations'), '--to-schema', schema, '--exit-code']);

describe('the migrations and the schema', () => {
  it('say the same', async () => {
    const { code, output } = await diff(join(PRISMA, 'schema.prisma'));
    expect(output).toContain('No difference detected');
    expect(code).toBe(0);
  });

  it('are seen to differ when the schema has one more column', async () => {
    const altered = join(folder, 'schema.prisma');
    writeFileSync(altered, readFileSync(join(PRISMA, 'schema.prisma'), 'utf8').replace(/model task \{/, 'model task {\n  planted Int'));
    const { code, output } = await diff(altered);
    expect(output).toContain('planted');
    expect(code).toBe(2);
  });

  it('are applied here in the form Prisma records, so that its own command finds nothing to do', async () => {
    const { code, output } = await prisma(['migrate', 'status']);
    expect(output).toContain('Database schema is up to date');
    expect(code).toBe(0);
  });
});
