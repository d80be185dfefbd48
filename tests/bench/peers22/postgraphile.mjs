// PostGraphile 5 over the same tables as the same role, under the Node it needs; each statement's transaction sets the variable that the policies read.
import { createServer } from 'node:http';
import { postgraphile } from 'postgraphile';
import { makePgService } from 'postgraphile/adaptors/pg';
import { grafserv } from 'postgraphile/grafserv/node';
import { PostGraphileAmberPreset } from 'postgraphile/presets/amber';

const { DATABASE_URL, BENCH_ORG } = process.env;
const preset = {
  extends: [PostGraphileAmberPreset],
  // Which orders and filters have an index is not looked at: the product's own list is asked for, which has one.
  disablePlugins: ['PgIndexBehaviorsPlugin'],
  pgServices: [makePgService({ connectionString: DATABASE_URL, schemas: ['public'], pubsub: false, poolConfig: { max: 10 } })],
  grafast: { context: () => ({ pgSettings: { 'app.org_id': BENCH_ORG } }), explain: false },
  grafserv: { graphiql: false, watch: false },
};
const server = createServer();
server.keepAliveTimeout = 72_000;
const served = postgraphile(preset).createServ(grafserv);
await served.addTo(server);
server.listen(0, '127.0.0.1', () => process.send({ ready: true, port: server.address().port }));
