#!/usr/bin/env node
// `prisma`, without its download: the schema engine is the WebAssembly build from npm (schema-engine.mjs).
//   node prisma/cli.mjs migrate dev --create-only --name add_something     author a migration
//   node prisma/cli.mjs migrate diff --from-migrations prisma/migrations --to-schema prisma/schema.prisma --exit-code
// Commands that need a database use DATABASE_OWNER_URL (a role that may create databases), else a throw-away server of their own, already
// migrated. PRISMA_NATIVE_ENGINE=1 goes back to Prisma's own engine.
import { spawn } from 'node:child_process';
import { chmodSync, existsSync, mkdtempSync, rmSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';

const here = dirname(fileURLToPath(import.meta.url));
const cli = join(dirname(createRequire(import.meta.url).resolve('prisma/package.json')), 'build', 'index.js');
const args = process.argv.slice(2);
const NEEDS_DATABASE = ['migrate', 'db'];

/** A server that lives as long as this command, with the migrations there are. Its name is not the one the migrations are diffed in. */
async function throwAwayServer() {
  const library = join(here, '..', 'dist', 'libs', 'database', 'index.js');
  if (!existsSync(library))
    throw new Error('set DATABASE_OWNER_URL, or run `npm run build` once: the throw-away server is part of the build');
  const { startEmbedded, stopEmbedded, migrate } = await import(library);
  const directory = mkdtempSync(join(tmpdir(), 'coolback-prisma-'));
  chmodSync(directory, 0o755);
  const server = await startEmbedded({ directory, settings: { fsync: 'off', full_page_writes: 'off' } });
  const remove = async () => {
    await stopEmbedded(directory, { mode: 'immediate' }).catch(() => {});
    rmSync(directory, { recursive: true, force: true });
  };
  try {
    await migrate({ ownerUrl: server.ownerUrl });
  } catch (error) {
    await remove();
    throw error;
  }
  // The superuser, because the engine makes and drops shadow databases; in the migrated database.
  const url = new URL(server.superUrl);
  url.pathname = new URL(server.ownerUrl).pathname;
  return { url: url.toString(), remove };
}

function run(env) {
  const configured = args.some((arg) => arg === '--config' || arg.startsWith('--config='));
  const config = args.length > 0 && !args[0].startsWith('-') && !configured ? ['--config', join(here, 'prisma.config.ts')] : [];
  return new Promise((resolve, reject) => {
    const child = spawn(process.execPath, [cli, ...args, ...config], {
      stdio: 'inherit',
      env: { CHECKPOINT_DISABLE: '1', PRISMA_HIDE_UPDATE_MESSAGE: '1', ...process.env, ...env },
    });
    // The child gets the terminal's signal too; this process stays to clear up.
    for (const signal of ['SIGINT', 'SIGTERM']) process.on(signal, () => child.kill(signal));
    child.once('error', reject).once('close', (code) => resolve(code ?? 1));
  });
}

const env = process.env['PRISMA_NATIVE_ENGINE'] ? {} : { PRISMA_SCHEMA_ENGINE_BINARY: join(here, 'schema-engine.mjs') };
const own = NEEDS_DATABASE.includes(args[0]) && !args.includes('--help') && !process.env['DATABASE_OWNER_URL'];
try {
  const server = own ? await throwAwayServer() : null;
  try {
    process.exitCode = await run(server === null ? env : { ...env, DATABASE_OWNER_URL: server.url });
  } finally {
    await server?.remove();
  }
} catch (error) {
  console.error(error instanceof Error ? error.message : error);
  process.exitCode = 1;
}
