// PostGraphile 4 over the same tables as the same role; its transaction sets the same variable that the policies read.
import { createServer } from 'node:http';
import pg from 'pg';
import { postgraphile } from 'postgraphile';

const { DATABASE_URL, BENCH_ORG } = process.env;
const pool = new pg.Pool({ connectionString: DATABASE_URL, max: 10 });
const handler = postgraphile(pool, 'public', {
  pgSettings: { 'app.org_id': BENCH_ORG },
  disableQueryLog: true,
  disableDefaultMutations: true,
  dynamicJson: true,
  graphiql: false,
  retryOnInitFail: false,
});
const server = createServer(handler);
server.keepAliveTimeout = 72_000;
server.listen(0, '127.0.0.1', () => process.send({ ready: true, port: server.address().port }));
