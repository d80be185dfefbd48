import { defineConfig } from 'prisma/config';

export default defineConfig({
  schema: 'schema.prisma',
  migrations: { path: 'migrations' },
  // Authoring compares with a shadow database, so the role needs CREATEDB; nothing here is read at run time.
  datasource: { url: process.env['DATABASE_OWNER_URL'] ?? 'postgresql://coolback_owner@127.0.0.1:5432/coolback' },
});
