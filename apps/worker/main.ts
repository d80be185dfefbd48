import { openCasebook, targetsWith } from '#libs/casebook/index.js';
import { assertSafeRole, createPool, openDatabase, serverSecret } from '#libs/database/index.js';
import { startWorker } from './process.js';

const database = await openDatabase(process.env);
if (database.queueUrl === null) throw new Error('The worker needs DATABASE_QUEUE_URL (role coolback_queue) beside DATABASE_URL.');
const pool = createPool(database.appUrl, { max: 4, applicationName: 'coolback worker' });
await assertSafeRole(pool);
const casebook = openCasebook(pool, serverSecret(process.env, database.directory), undefined, {
  webhookTargets: targetsWith(process.env['COOLBACK_PRIVATE_NETWORKS']),
});
const runner = await startWorker(database.queueUrl, casebook);
const end = async () => {
  await runner.stop();
  await pool.end();
  await database.close();
  process.exit(0);
};
process.once('SIGTERM', end);
process.once('SIGINT', end);
process.send?.({ ready: true });
