import { once } from 'node:events';
import { connect } from 'node:net';
import { expect, it } from '@jest/globals';
import { openCasebook } from '#libs/casebook/index.js';
import { createPool } from '#libs/database/index.js';
import { createServer } from './server.js';

it('ends at once although somebody opened a connection and said nothing', async () => {
  const pool = createPool('postgresql://nobody@127.0.0.1:9/none', { max: 1 });
  const app = await createServer({ casebook: openCasebook(pool, Buffer.alloc(32)), pool, ratePerMinute: 1, logLevel: 'silent' });
  await app.listen({ host: '127.0.0.1', port: 0 });
  const { port } = app.getHttpServer().address() as { port: number };
  const silent = connect(port, '127.0.0.1');
  await once(silent, 'connect');
  // The server has taken the connection once it answers another one.
  expect((await fetch(`http://127.0.0.1:${port}/livez`)).status).toBe(200);
  const began = Date.now();
  await app.close();
  await pool.end();
  expect(Date.now() - began).toBeLessThan(5_000);
  silent.destroy();
});
