import { type ChildProcess, fork } from 'node:child_process';
import { mkdirSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { readApiConfig } from '#apps/api/config.js';
import { createServer, drain } from '#apps/api/server.js';
import { type Actor, type Casebook, openCasebook, ROLE_PERMISSIONS, targetsWith } from '#libs/casebook/index.js';
import type { Role } from '#libs/contracts/index.js';
import { assertSafeRole, createPool, openDatabase, serverSecret } from '#libs/database/index.js';
import { DEMO_ORGANISATION, DEMO_SEED, FIRST_CASES, firstDayOf, loadRegion, PLANNED_CASES, planRegion } from '#libs/demo/index.js';
import { HEAP_FLAGS } from './heap-flags.js';
import { type KeyFile, readKeyFile, writeKeyFile } from './key-file.js';
import { progressBar } from './progress.js';

const ROLES = Object.keys(ROLE_PERMISSIONS) as Role[];

interface StartOptions {
  readonly demo: boolean;
  readonly port: string;
  readonly host: string;
}

/** Everything in one command: database, migrations, demo region, API, worker, console. Ends in order on SIGINT and SIGTERM. */
export async function startCommand(options: StartOptions): Promise<void> {
  const began = Date.now();
  const config = readApiConfig({ COOLBACK_LOG: 'warn', ...process.env, COOLBACK_PORT: options.port, COOLBACK_HOST: options.host });
  const say = (line: string) => console.log(line);
  const database = await openDatabase(process.env, (line) => say(`  ${line}`));
  mkdirSync(database.directory, { recursive: true });
  const pool = createPool(database.appUrl, { max: config.poolSize, applicationName: 'coolback api' });
  await assertSafeRole(pool);
  const casebook = openCasebook(pool, serverSecret(process.env, database.directory), undefined, {
    webhookTargets: targetsWith(process.env['COOLBACK_PRIVATE_NETWORKS']),
  });
  let keys = readKeyFile(database.directory);
  keys = options.demo ? await prepareDemo(casebook, database.directory, keys) : await prepareHome(casebook, database.directory, keys);
  for (const one of [keys.demo, keys.home]) if (one) await casebook.rediagnosis.catchUp(one.orgId);
  const app = await createServer({ ...config, casebook, pool, dataDirectory: database.embedded ? database.directory : null });
  await app.listen({ host: config.host, port: config.port });
  const { port } = app.getHttpServer().address() as { port: number };
  const worker = database.queueUrl === null ? null : startWorkerProcess();
  const end = async () => {
    worker?.kill('SIGTERM');
    await drain(app);
    if (worker && worker.exitCode === null) await new Promise((done) => worker.once('exit', done));
    await pool.end();
    await database.close();
    process.exit(0);
  };
  process.once('SIGTERM', end);
  process.once('SIGINT', end);
  say(greeting(`http://${config.host}:${port}`, options.demo ? keys.demo! : keys.home!, options.demo, Date.now() - began));
}

/**
 * The demo organisation, its keys and its first cases. Each step looks at what is there, so that a start that was interrupted goes on where it
 * stopped: founding and queueing commit together, and keys that were never written down are issued again.
 */
async function prepareDemo(casebook: Casebook, directory: string, keys: KeyFile): Promise<KeyFile> {
  const { orgId } = DEMO_ORGANISATION;
  if (!(await casebook.access.isFounded(orgId))) {
    const plan = planRegion(DEMO_SEED, PLANNED_CASES, firstDayOf(casebook.context.clock()));
    const total = plan.reduce((sum, vehicle) => sum + vehicle.visits.length, 0);
    await casebook.context.inTenant(orgId, async (tx) => {
      const within = casebook.within(tx, orgId);
      await within.access.foundOrganisation({ ...DEMO_ORGANISATION, demo: true });
      await within.tasks.startTask(orgId, 'demo.load', total);
    });
  }
  let next = keys;
  if (!keys.demo) {
    next = { ...keys, demo: { orgId, keys: await issueRoleKeys(casebook, orgId) } };
    writeKeyFile(directory, next);
  }
  const task = (await casebook.tasks.listTasks(founderOf(orgId))).find((one) => one.kind === 'demo.load');
  if (task && task.done < FIRST_CASES) {
    const bar = progressBar('  demo region', FIRST_CASES);
    await loadRegion(casebook, orgId, { taskId: task.id, until: FIRST_CASES, progress: (done) => bar.update(done) });
    bar.stop();
  }
  return next;
}

async function prepareHome(casebook: Casebook, directory: string, keys: KeyFile): Promise<KeyFile> {
  if (keys.home) return keys;
  const { orgId } = await casebook.access.foundOrganisation({ name: 'My region', slug: 'my-region', demo: false });
  const next: KeyFile = { ...keys, home: { orgId, keys: await issueRoleKeys(casebook, orgId) } };
  writeKeyFile(directory, next);
  return next;
}

/** The organisation's founder, in whose name the command line acts. */
const founderOf = (orgId: string): Actor => ({
  orgId,
  credentialId: orgId,
  role: 'administrator',
  permissions: ROLE_PERMISSIONS.administrator,
  shopIds: null,
  requestId: 'command-line',
});

/** One key for each role, issued in the name of the organisation's founder. */
export async function issueRoleKeys(
  casebook: Casebook,
  orgId: string,
  roles: readonly Role[] = ROLES,
  name = 'First key',
): Promise<Record<string, string>> {
  const founder = founderOf(orgId);
  const secrets: Record<string, string> = {};
  for (const role of roles) {
    secrets[role] = (await casebook.access.issueKey(founder, { name: `${name} (${role})`, role, shopIds: null, expiresAt: null })).secret;
  }
  return secrets;
}

function startWorkerProcess(): ChildProcess {
  return fork(fileURLToPath(new URL('../worker/main.js', import.meta.url)), {
    stdio: 'inherit',
    env: process.env,
    execArgv: [...new Set([...process.execArgv, ...HEAP_FLAGS])],
  });
}

function greeting(url: string, { keys }: { keys: Record<string, string> }, demo: boolean, tookMs: number): string {
  const technician = keys['technician'] ?? '';
  const director = keys['director'] ?? '';
  const integrator = keys['integrator'] ?? '';
  const lines = [
    '',
    `Coolback is ready after ${(tookMs / 1000).toFixed(1)} s.`,
    '',
    `  Console          ${url}/`,
    `  API reference    ${url}/docs`,
    `  GraphQL console  ${url}/graphiql`,
    `  Problems         ${url}/problems`,
    '',
    'Keys, one for each role (kept in first-keys.json of the data folder):',
    ...Object.entries(keys).map(([role, secret]) => `  ${role.padEnd(14)} ${secret}`),
    '',
  ];
  if (!demo) return [...lines, 'There is no demo region. Add a shop first: POST /v1/shops.', ''].join('\n');
  return [
    ...lines,
    'What recurs in the region, by platform and repair (director):',
    `  curl -s '${url}/v1/outcomes/recurrences' -H 'Authorization: Bearer ${director}'`,
    '',
    'Judge readings: at 1,800 m the port gauge reads far below the transducer, though both agreed at rest (technician):',
    `  curl -s '${url}/v1/diagnoses' -H 'Authorization: Bearer ${technician}' -H 'Content-Type: application/json' -d '${JSON.stringify(STORY)}'`,
    '',
    'Push a case; sending it again with the same key changes nothing (integrator):',
    `  curl -s '${url}/v1/cases' -H 'Authorization: Bearer ${integrator}' -H 'Content-Type: application/json' -H 'Idempotency-Key: first-order' -d '${JSON.stringify(ORDER)}'`,
    '',
    'The worker goes on loading the demo region; Ctrl-C stops everything.',
    '',
  ].join('\n');
}

const pressure = (place: string, instrument: string, phase: string, value: number) => ({
  quantity: 'pressure',
  place,
  instrument,
  phase,
  reference: 'vented-gauge',
  value,
  unit: '[psi]',
});

const STORY = {
  elevationM: 1800,
  system: { layout: 'valve-integral-receiver', compressor: 'fixed-clutch', refrigerant: 'R-134a' },
  evidence: {
    conditions: {
      outsideAir: { value: 30, unit: 'Cel' },
      airSource: 'recirculated',
      minutesRunning: 10,
      hoursSoaked: 10,
      soakTemperature: { value: 24, unit: 'Cel' },
    },
    readings: [
      { ...pressure('liquid-line-after-drier', 'manifold-gauge', 'rest', 79) },
      { ...pressure('compressor-discharge', 'vehicle-transducer', 'rest', 81) },
      { ...pressure('liquid-line-after-drier', 'manifold-gauge', 'running', 150) },
      { ...pressure('compressor-discharge', 'vehicle-transducer', 'running', 260) },
      { ...pressure('low-side-port', 'manifold-gauge', 'running', 26) },
    ],
  },
};

const ORDER = {
  shopCode: 'harbour-road',
  vehicle: { vin: '1M8GDM9AXKP042788' },
  complaint: 'cools-poorly',
  source: { system: 'my-orders', reference: 'A-1001', revision: 1 },
};
