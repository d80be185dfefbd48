// The floor: Fastify and pg by hand, one transaction under row-level security, the statement of the product's own list, JSON as Fastify makes it.
import Fastify from 'fastify';
import pg from 'pg';

const { DATABASE_URL, BENCH_ORG, BENCH_STATEMENT } = process.env;
const pool = new pg.Pool({ connectionString: DATABASE_URL, max: 10 });
const app = Fastify();

app.get('/v1/cases', async (request) => {
  const first = Number(request.query.first ?? 20);
  const client = await pool.connect();
  try {
    await client.query(`BEGIN; SET LOCAL app.org_id = '${BENCH_ORG}'`);
    const { rows } = await client.query({ name: 'list', text: BENCH_STATEMENT, values: [BENCH_ORG, first + 1] });
    await client.query('COMMIT');
    return { data: rows.slice(0, first), next: rows.length > first ? rows[first - 1].id : null };
  } finally {
    client.release();
  }
});
await app.listen({ host: '127.0.0.1', port: 0 });
process.send({ ready: true, port: app.server.address().port });
