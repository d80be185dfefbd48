import { chmodSync, existsSync, mkdirSync, mkdtempSync, readFileSync, renameSync, rmSync, writeFileSync } from 'node:fs';
import { copyFile, lstat, mkdir, readdir, readlink, symlink } from 'node:fs/promises';
import { dirname, join, resolve } from 'node:path';
import pg from 'pg';
import { type Account, giveTo } from './account.js';
import { isPostmaster, readPostmaster } from './postmaster.js';
import { draftOf, halt, type Installation, installation, launch, lockOf, removeDrafts, superUrlOf } from './server.js';
import { withStartLock } from './start-lock.js';

/** What a backup says about itself, in `backup.json`. */
export interface Backup {
  readonly takenAt: string;
  readonly serverVersion: string;
  readonly firstWal: string;
  readonly lastWal: string;
  readonly files: number;
  readonly bytes: number;
  /** Rows of each table, counted in the copy after it was started once. */
  readonly verifiedRows: Readonly<Record<string, number>>;
}

/** Beside the cluster: without its passwords it cannot be entered, without the server secret its sealed keys cannot be opened. */
const KEPT_FILES = ['passwords.json', 'server-secret'] as const;
/** Contents a base backup leaves out: PostgreSQL manual, section 26.3.4.3. */
const EMPTY_FOLDERS = new Set([
  'pg_dynshmem',
  'pg_notify',
  'pg_replslot',
  'pg_serial',
  'pg_snapshots',
  'pg_stat_tmp',
  'pg_subtrans',
  'pg_wal',
  'log',
]);
const LEFT_OUT = /^(postmaster\.(pid|opts)|backup_label.*|tablespace_map.*|current_logfiles|start\.log|pgsql_tmp.*|.*\.tmp)$/;
const SLOT = 'coolback_backup';

/**
 * Copies the embedded server of `directory` into the new folder `target`, without stopping it, and proves the copy by
 * starting a second copy of it and counting every table. The backup holds passwords and the server secret: keep it as they are kept.
 */
export async function backup(directory: string, target: string, log: (line: string) => void = () => {}): Promise<Backup> {
  const place = installation(directory, log);
  const folder = resolve(target);
  if (existsSync(folder)) throw new Error(`${folder} exists: a backup goes into a new folder`);
  const running = readPostmaster(place.cluster);
  if (running === null || !isPostmaster(running.pid, place.cluster))
    throw new Error(`the database of ${place.directory} does not run: start it first`);
  const draft = `${folder}.partial-${process.pid}`;
  mkdirSync(draft, { recursive: true, mode: 0o700 });
  try {
    const copied = await copyRunning(place, running.port, join(draft, 'cluster'));
    for (const name of KEPT_FILES)
      if (existsSync(join(place.directory, name))) await copyPrivate(join(place.directory, name), join(draft, name));
    const verifiedRows = await verify(draft, log);
    const report: Backup = { takenAt: new Date().toISOString(), ...copied, verifiedRows };
    writeFileSync(join(draft, 'backup.json'), `${JSON.stringify(report, null, 2)}\n`, { mode: 0o600 });
    renameSync(draft, folder);
    return report;
  } catch (error) {
    rmSync(draft, { recursive: true, force: true });
    throw error;
  }
}

async function copyRunning(place: Installation, port: number, target: string) {
  const client = new pg.Client({ connectionString: superUrlOf(place, port), application_name: 'coolback backup' });
  client.on('error', () => {});
  await client.connect();
  try {
    // The slot keeps the log written from here on, and ends with this session.
    await client.query('select pg_create_physical_replication_slot($1, true, true)', [SLOT]);
    const { rows: begun } = await client.query<{ wal: string; version: string }>(
      `select pg_walfile_name(pg_backup_start('coolback', true)) as wal, current_setting('server_version') as version`,
    );
    const count = { files: 0, bytes: 0 };
    await copyFolder(place.cluster, target, count, { top: true, account: { name: null } });
    const { rows: ended } = await client.query<{ wal: string; label: string; map: string }>(
      `select pg_walfile_name(lsn) as wal, labelfile as label, spcmapfile as map from pg_backup_stop(false)`,
    );
    const firstWal = begun[0]!.wal;
    const { wal: lastWal, label } = ended[0]!;
    writeFileSync(join(target, 'backup_label'), label, { mode: 0o600 });
    for (const name of await readdir(join(place.cluster, 'pg_wal'))) {
      if (!/^[0-9A-F]{24}$/.test(name) || name < firstWal || name > lastWal) continue;
      await copyPrivate(join(place.cluster, 'pg_wal', name), join(target, 'pg_wal', name));
      count.files += 1;
    }
    return { serverVersion: begun[0]!.version, firstWal, lastWal, ...count };
  } finally {
    await client.end().catch(() => {});
  }
}

async function copyPrivate(source: string, target: string): Promise<void> {
  await copyFile(source, target);
  chmodSync(target, 0o600);
}

async function copyFolder(
  source: string,
  target: string,
  count: { files: number; bytes: number },
  options: { top: boolean; account: Account; whole?: boolean },
): Promise<void> {
  await mkdir(target, { mode: 0o700 });
  giveTo(options.account, target);
  for (const entry of await readdir(source, { withFileTypes: true })) {
    if (!options.whole && LEFT_OUT.test(entry.name)) continue;
    const from = join(source, entry.name);
    const to = join(target, entry.name);
    try {
      if (entry.isDirectory()) {
        if (options.top && !options.whole && EMPTY_FOLDERS.has(entry.name)) {
          await mkdir(to, { mode: 0o700 });
          if (entry.name === 'pg_wal') await mkdir(join(to, 'archive_status'), { mode: 0o700 });
        } else await copyFolder(from, to, count, { ...options, top: false });
      } else if (entry.isSymbolicLink()) await symlink(await readlink(from), to);
      else if (entry.isFile()) {
        await copyPrivate(from, to);
        giveTo(options.account, to);
        count.files += 1;
        count.bytes += (await lstat(to)).size;
      }
    } catch (error) {
      // Files of dropped tables vanish while a running cluster is copied; the log tells recovery so.
      if ((error as NodeJS.ErrnoException).code !== 'ENOENT' || options.whole) throw error;
    }
  }
}

/** Puts a backup's files at the place of a data folder whose cluster is missing, owned by the server's account. */
async function putInPlace(from: string, to: Installation): Promise<void> {
  mkdirSync(dirname(to.cluster), { recursive: true });
  await removeDrafts(to.cluster);
  const draft = draftOf(to.cluster);
  try {
    await copyFolder(join(from, 'cluster'), draft, { files: 0, bytes: 0 }, { top: true, account: to.account, whole: true });
    renameSync(draft, to.cluster);
  } finally {
    rmSync(draft, { recursive: true, force: true });
  }
}

async function verify(draft: string, log: (line: string) => void): Promise<Record<string, number>> {
  const trial = mkdtempSync(`${draft}-trial-`);
  try {
    return await restoreInto(draft, trial, log, true);
  } finally {
    rmSync(trial, { recursive: true, force: true });
  }
}

/**
 * Brings a backup back into the data folder `directory`, which must not hold a database, and leaves it stopped; one that cannot be read
 * whole is not left there. Returns rows by table.
 */
export async function restore(source: string, directory: string, log: (line: string) => void = () => {}): Promise<Record<string, number>> {
  const folder = resolve(source);
  if (!existsSync(join(folder, 'backup.json'))) throw new Error(`${folder} is not a complete backup: it has no backup.json`);
  return await restoreInto(folder, resolve(directory), log, false);
}

async function restoreInto(
  source: string,
  directory: string,
  log: (line: string) => void,
  trial: boolean,
): Promise<Record<string, number>> {
  mkdirSync(directory, { recursive: true, mode: 0o700 });
  for (const name of KEPT_FILES) {
    if (!existsSync(join(source, name))) continue;
    const existing = join(directory, name);
    if (existsSync(existing) && !readFileSync(existing).equals(readFileSync(join(source, name)))) {
      throw new Error(`${existing} is not the one of the backup: restore into an empty folder`);
    }
    await copyPrivate(join(source, name), existing);
  }
  const target = installation(directory, trial ? () => {} : log);
  return await withStartLock(lockOf(target.directory), async () => {
    if (existsSync(target.cluster)) throw new Error(`${target.directory} holds a database already: restore into an empty folder`);
    await putInPlace(source, target);
    let proved = false;
    try {
      const { port } = await launch(target, {});
      const rowsByTable = await countRows(superUrlOf(target, port));
      proved = true;
      return rowsByTable;
    } finally {
      await halt(target);
      if (trial || !proved) rmSync(target.cluster, { recursive: true, force: true });
    }
  });
}

async function countRows(superUrl: string): Promise<Record<string, number>> {
  const rowsByTable: Record<string, number> = {};
  const inDatabase = async <T>(database: string, work: (client: pg.Client) => Promise<T>): Promise<T> => {
    const url = new URL(superUrl);
    url.pathname = `/${encodeURIComponent(database)}`;
    const client = new pg.Client({ connectionString: url.toString(), application_name: 'coolback verify' });
    client.on('error', () => {});
    await client.connect();
    try {
      return await work(client);
    } finally {
      await client.end().catch(() => {});
    }
  };
  const { rows: databases } = await inDatabase('postgres', (client) =>
    client.query<{ name: string }>(
      `select datname as name from pg_database where datallowconn and datname not in ('postgres', 'template1')`,
    ),
  );
  for (const { name } of databases) {
    await inDatabase(name, async (client) => {
      const { rows: tables } = await client.query<{ table: string }>(
        `select c.oid::regclass::text as table from pg_class c join pg_namespace n on n.oid = c.relnamespace
          where c.relkind = 'r' and n.nspname not in ('pg_catalog', 'information_schema') order by 1`,
      );
      for (const { table } of tables) {
        const { rows } = await client.query<{ n: string }>(`select count(*) as n from ${table}`);
        rowsByTable[databases.length > 1 ? `${name}.${table}` : table] = Number(rows[0]!.n);
      }
    });
  }
  return rowsByTable;
}
