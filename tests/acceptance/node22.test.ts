import { type ChildProcess, spawn } from 'node:child_process';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from '@jest/globals';
import { openCasebook } from '#libs/casebook/index.js';
import { newPlatform, newShop, request, testOrganisation } from '../support/api.js';
import { type TestDatabase, testDatabase } from '../support/database.js';

/** The built app under whatever Node runs it: the running one here, and Node 22 where COOLBACK_NODE22 names its binary (CI does). */
const BINARIES = [...new Set([process.execPath, process.env['COOLBACK_NODE22'] ?? process.execPath])];
const SECRET = Buffer.alloc(32, 9);
let database: TestDatabase | undefined;
const children: ChildProcess[] = [];
afterAll(async () => {
  for (const child of children) child.kill('SIGKILL');
  await database?.close();
});

describe('the built app', () => {
  it.each(BINARIES)('answers a case under %s', async (binary) => {
    database ??= await testDatabase();
    const child = spawn(binary, [join(process.cwd(), 'dist/apps/api/main.js')], {
      env: {
        ...process.env,
        NODE_OPTIONS: '',
        DATABASE_URL: database.appUrl,
        DATABASE_OWNER_URL: '',
        COOLBACK_PORT: '0',
        COOLBACK_LOG: 'error',
        COOLBACK_SECRET: SECRET.toString('hex'),
      },
      stdio: ['ignore', 'inherit', 'inherit', 'ipc'],
    });
    children.push(child);
    const port = await new Promise<number>((ready, failed) => {
      child.once('message', (message) => ready((message as { port: number }).port));
      child.once('exit', (code) => failed(new Error(`the app ended with code ${code} before it was ready`)));
    });
    const api = { url: `http://127.0.0.1:${port}` };
    const org = await testOrganisation({ casebook: openCasebook(database.pool, SECRET) } as never);
    await request(api, org.keys.administrator, 'POST', '/v1/shops', newShop('quay'));
    await request(api, org.keys.administrator, 'POST', '/v1/platforms', newPlatform('knot-r'));
    const answer = await request(api, org.keys.technician, 'POST', '/v1/cases', {
      shopCode: 'quay',
      vehicle: { platformCode: 'knot-r' },
      complaint: 'cools-poorly',
      diagnose: true,
      evidence: {
        readings: [
          { quantity: 'mass', meaning: 'recovered-charge', place: 'service-machine', instrument: 'service-machine', value: 190, unit: 'g' },
        ],
      },
    });
    expect(answer.status).toBe(201);
    expect(answer.body.leadingFault).toBe('undercharge');
    const ended = new Promise((done) => child.once('exit', (code) => done(code)));
    child.kill('SIGTERM');
    expect(await ended).toBe(0);
  });
});
