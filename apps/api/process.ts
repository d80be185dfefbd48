import type { NestFastifyApplication } from '@nestjs/platform-fastify';
import { openCasebook, targetsWith } from '#libs/casebook/index.js';
import { assertSafeRole, createPool, openDatabase, serverSecret } from '#libs/database/index.js';
import { readApiConfig } from './config.js';
import { tableThread } from './outcomes/table-threads.js';
import { createServer, drain } from './server.js';

const USAGE_EVERY_MS = 10_000;

/** The API as a process of its own: database, safety of its role, server, orderly end. */
export async function serverProcess(environment: NodeJS.ProcessEnv): Promise<NestFastifyApplication> {
  const config = readApiConfig(environment);
  const database = await openDatabase(environment);
  const pool = createPool(database.appUrl, { max: config.poolSize, applicationName: 'coolback api' });
  await assertSafeRole(pool);
  const tables = tableThread(database.appUrl);
  const casebook = openCasebook(pool, serverSecret(environment, database.directory), undefined, {
    webhookTargets: targetsWith(environment['COOLBACK_PRIVATE_NETWORKS']),
    groupElsewhere: tables.group,
  });
  const app = await createServer({
    ...config,
    casebook,
    pool,
    usageEveryMs: USAGE_EVERY_MS,
    readsAhead: true,
    dataDirectory: database.embedded ? database.directory : null,
  });
  await app.listen({ host: config.host, port: config.port });
  const end = async () => {
    await drain(app);
    await tables.close();
    await pool.end();
    await database.close();
    process.exit(0);
  };
  process.once('SIGTERM', end);
  process.once('SIGINT', end);
  process.send?.({ ready: true, port: (app.getHttpServer().address() as { port: number }).port });
  return app;
}
