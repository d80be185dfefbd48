#!/usr/bin/env node
// The `prisma` command without a download: the schema engine is the WebAssembly build from npm, behind `schema-engine.mjs`.
//   node prisma/cli.mjs migrate dev --create-only --name what_changes
//   node prisma/cli.mjs migrate diff --from-migrations prisma/migrations --to-schema prisma/schema.prisma --exit-code
// DATABASE_OWNER_URL names a server and a role that may create databases.
import { spawnSync } from 'node:child_process';
import { createRequire } from 'node:module';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';

const here = dirname(fileURLToPath(import.meta.url));
const cli = join(dirname(createRequire(import.meta.url).resolve('prisma/package.json')), 'build', 'index.js');
const args = process.argv.slice(2);
if (
  !args.some((argument) => argument === '--config' || argument.startsWith('--config=')) &&
  !['--version', '-v', '--help', '-h'].includes(args[0])
) {
  args.push('--config', join(here, 'prisma.config.ts'));
}
const { status } = spawnSync(process.execPath, [cli, ...args], {
  stdio: 'inherit',
  env: {
    CHECKPOINT_DISABLE: '1',
    PRISMA_HIDE_UPDATE_MESSAGE: '1',
    ...process.env,
    PRISMA_SCHEMA_ENGINE_BINARY: join(here, 'schema-engine.mjs'),
  },
});
process.exit(status ?? 1);
