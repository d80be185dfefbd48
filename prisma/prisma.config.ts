import { defineConfig } from 'prisma/config';

// Paths are relative to this file. The database is the one `cli.mjs` names; commands that need none never look at it.
export default defineConfig({
  schema: 'schema.prisma',
  migrations: { path: 'migrations' },
  datasource: { url: process.env['DATABASE_OWNER_URL'] ?? 'postgresql://127.0.0.1:1/none' },
});
