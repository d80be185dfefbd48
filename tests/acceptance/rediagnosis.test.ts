import { createHash } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, it } from '@jest/globals';
import { rediagnose } from '#apps/worker/jobs/rediagnose.job.js';
import { takenAfter } from '#libs/casebook/diagnosis/rediagnosis.queries.js';
import { type JudgeHistory, judgeBatch } from '#libs/casebook/index.js';
import type { Diagnosis, Rediagnosis, RediagnosisChange } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import { ENGINE_VERSION } from '#libs/engine/index.js';
import {
  graphql,
  listen,
  newPlatform,
  newShop,
  request,
  type TestApi,
  type TestOrganisation,
  testApi,
  testOrganisation,
} from '../support/api.js';

let api: TestApi;
let org: TestOrganisation;
let shopId: string;
let platformId: string;
const CASES = 300;
const ids: string[] = [];

async function send(method: string, path: string, body?: unknown, key = org.keys.administrator) {
  const answer = await request(api, key, method, path, body);
  if (answer.status >= 300) throw new Error(`${method} ${path}: ${answer.status} ${JSON.stringify(answer.body)}`);
  return answer.body;
}
const sql = (text: string, values: unknown[] = []) =>
  api.casebook.context.inTenant(org.orgId, (tx) =>
    tx.query<Record<string, unknown>>({ name: createHash('md5').update(text).digest('hex'), text, values: [org.orgId, ...values] }),
  );
const inline: JudgeHistory = async (batch) => judgeBatch(batch);
const carryOut = (id: string, judge = inline) => rediagnose(api.casebook, org.orgId, id, { judge, isLastTry: true });
const get = (id: string): Promise<Rediagnosis> => send('GET', `/v1/rediagnoses/${id}`);

const psi = (place: string, value: number) => ({
  quantity: 'pressure',
  place,
  instrument: 'manifold-gauge',
  phase: 'running',
  reference: 'vented-gauge',
  value,
  unit: '[psi]',
});

beforeAll(async () => {
  api = await testApi();
  org = await testOrganisation(api);
  shopId = (await send('POST', '/v1/shops', newShop('first'))).id;
  platformId = (await send('POST', '/v1/platforms', newPlatform('heron'))).id;
  const one = await send('POST', '/v1/cases', {
    shopId,
    vehicle: { plate: 'A 1', platformId },
    complaint: 'cools-poorly',
    openedAt: '2026-06-02T09:00:00Z',
    evidence: {
      conditions: { outsideAir: { value: 30, unit: 'Cel' }, airSource: 'recirculated', minutesRunning: 12 },
      readings: [psi('high-side-port', 260), psi('low-side-port', 30)],
      findings: [{ code: 'condenser-fins-dirty' }, { code: 'condenser-fan-runs' }],
    },
    diagnose: true,
  });
  ids.push(one.id);
  // Copies with other pressures, and an answer of another engine: what a history looks like after an upgrade.
  for (let i = 1; i < CASES; i++) ids.push(`0197a2b4-7c00-7000-8000-${(i * 7919).toString(16).padStart(12, '0')}`);
  await sql(
    `insert into shop_case (org_id, id, version, evidence_revision, shop_id, vehicle_id, platform_id, status, complaint, opened_at, proved_faults, backfill,
                            warnings, created_at, updated_at, leading_fault, leading_probability)
     select $1, n.id, 1, 1, c.shop_id, c.vehicle_id, c.platform_id, 'closed', c.complaint, c.opened_at, '{}', true, '[]', c.created_at, c.updated_at,
            case when n.i % 3 = 0 then null else 'second-circuit' end, case when n.i % 3 = 0 then null else 0.42 end
       from unnest($2::uuid[]) with ordinality as n(id, i) cross join shop_case c where c.org_id = $1 and c.id = $3`,
    [ids.slice(1), one.id],
  );
  await sql(
    `insert into case_evidence (org_id, case_id, revision, document, created_at)
     select $1, n.id, 1, jsonb_set(e.document, '{readings,0,si}', to_jsonb(1.2e6 + 3e3 * n.i)), e.created_at
       from unnest($2::uuid[]) with ordinality as n(id, i) cross join case_evidence e where e.org_id = $1 and e.case_id = $3`,
    [ids.slice(1), one.id],
  );
  await sql(
    `insert into diagnosis (org_id, id, case_id, case_revision, engine_version, result, signature_version, signature, created_at, shown)
     select $1, n.id, n.id, 1, 'engine-0', d.result, 's0', '{1,2}', d.created_at - interval '1 day', false
       from unnest($2::uuid[]) as n(id) cross join diagnosis d where d.org_id = $1 and d.case_id = $3`,
    [ids.slice(1), one.id],
  );
  await sql(
    `insert into case_signature (org_id, case_id, version, layout, leading_fault, opened_at, values)
     select $1, n.id, 's0', 'valve-integral-receiver', null, now(), '{1,2}' from unnest($2::uuid[]) as n(id)`,
    [ids.slice(1)],
  );
}, 180_000);
afterAll(() => api?.close(), 60_000);

interface Plan {
  readonly 'Relation Name'?: string;
  readonly 'Actual Rows': number;
  readonly 'Actual Loops': number;
  readonly Plans?: readonly Plan[];
}
/** Rows of a table that a plan went through. */
const touched = (plan: Plan, table: string): number =>
  (plan['Relation Name'] === table ? plan['Actual Rows'] * plan['Actual Loops'] : 0) +
  (plan.Plans ?? []).reduce((sum, part) => sum + touched(part, table), 0);

describe('a batch of a run', () => {
  it('goes through its own cases and their answers only, though the server has no statistics of a history just filled', async () => {
    const plan = await api.casebook.context.inTenant(org.orgId, async (tx) => {
      const explained = (statement: Parameters<Tx['query']>[0]) =>
        statement.name === 'rediagnosis.taken'
          ? { ...statement, name: 'test.taken', text: `explain (analyze, format json) ${statement.text}` }
          : statement;
      const asked = { engineVersion: ENGINE_VERSION, request: {}, shopIds: [], allShops: true };
      const rows: unknown[] = await takenAfter({ query: (one) => tx.query(explained(one)), ahead: tx.ahead }, org.orgId, asked, null, 20);
      return (rows[0] as { 'QUERY PLAN': { Plan: Plan }[] })['QUERY PLAN'][0]!.Plan;
    });
    expect(touched(plan, 'shop_case')).toBe(20);
    expect(touched(plan, 'diagnosis')).toBeLessThanOrEqual(40);
    expect(touched(plan, 'case_evidence')).toBe(20);
  });
});

let run: Rediagnosis;

describe('history that another engine answered', () => {
  it('is asked for by a director, once: the second to ask is shown the first', async () => {
    const refused = await request(api, org.keys.technician, 'POST', '/v1/rediagnoses', {});
    expect([refused.status, refused.body.code]).toEqual([403, 'access/forbidden']);
    run = await send('POST', '/v1/rediagnoses', {}, org.keys.director);
    expect(run).toMatchObject({ engineVersion: ENGINE_VERSION, state: 'waiting', done: 0, compared: 0 });
    expect((await send('POST', '/v1/rediagnoses', { again: true }, org.keys.director)).id).toBe(run.id);
  });

  it('interrupted after any batch it goes on with the next: no case twice, none left out', async () => {
    let batches = 0;
    const seen: string[] = [];
    const dying: JudgeHistory = async (batch) => {
      batches++;
      if (batches === 2) throw new Error('killed');
      return judgeBatch(batch);
    };
    // Its last try, which has stored a batch: it counts as none.
    let renewed = 0;
    const renew = async () => void renewed++;
    const last = rediagnose(api.casebook, org.orgId, run.id, { judge: dying, isLastTry: true, renew });
    await expect(last).rejects.toThrow('killed');
    expect(renewed).toBe(1);
    expect(await get(run.id)).toMatchObject({ state: 'running', done: 128, total: CASES - 1 });
    await carryOut(run.id, async (batch) => {
      seen.push(...batch.questions.map(({ caseId }) => caseId));
      return judgeBatch(batch);
    });
    expect(seen).toHaveLength(CASES - 1 - 128);
    const { rows } = await sql(
      'select count(*) as n, count(distinct case_id) as cases from diagnosis where org_id = $1 and engine_version = $2',
      [ENGINE_VERSION],
    );
    expect(rows[0]).toEqual({ n: CASES, cases: CASES });
  });

  it('reports what changed: first answers before and now, verdicts, movements', async () => {
    const ended = await get(run.id);
    expect(ended).toMatchObject({ state: 'done', done: CASES - 1, total: CASES - 1, compared: CASES - 1, failed: 0 });
    expect(ended.from).toEqual([{ engineVersion: 'engine-0', count: CASES - 1 }]);
    expect(ended.transitions.reduce((sum, { count }) => sum + count, 0)).toBe(CASES - 1);
    expect(ended.transitions.filter(({ from }) => from === 'second-circuit').reduce((sum, { count }) => sum + count, 0)).toBe(200);
    expect(ended.leadingChanged).toBe(ended.transitions.filter(({ from, to }) => from !== to).reduce((sum, { count }) => sum + count, 0));
    expect(ended.leadingChanged).toBeGreaterThan(0);
    expect(ended.nowCannotTell + ended.nowAnswered).toBeLessThanOrEqual(ended.leadingChanged);
    const { rows } = await sql(
      `select count(*) filter (where leading_fault = 'second-circuit') as stale, count(*) filter (where version > 1) as raised from shop_case
        where org_id = $1`,
    );
    const stayed = ended.transitions.find(({ from, to }) => from === 'second-circuit' && to === 'second-circuit')?.count ?? 0;
    expect(rows[0]!['stale']).toBe(stayed);
    expect(rows[0]!['raised']).toBeGreaterThanOrEqual(ended.leadingChanged);
  });

  it('lists the cases that changed, paged, by what they were and are', async () => {
    const seen: RediagnosisChange[] = [];
    let path = `/v1/rediagnoses/${run.id}/changes?first=100`;
    for (;;) {
      const page = (await send('GET', path)) as { data: RediagnosisChange[]; next: string | null };
      seen.push(...page.data);
      if (page.next === null) break;
      path = `/v1/rediagnoses/${run.id}/changes?first=100&after=${page.next}`;
    }
    const ended = await get(run.id);
    expect(seen).toHaveLength(ended.leadingChanged + ended.moved);
    expect(new Set(seen.map(({ caseId }) => caseId)).size).toBe(seen.length);
    const { from, to, count } = ended.transitions.find((one) => one.from !== one.to)!;
    const filtered = (await send('GET', `/v1/rediagnoses/${run.id}/changes?first=100&from=${from}&to=${to}`)) as {
      data: RediagnosisChange[];
    };
    expect(filtered.data).toHaveLength(Math.min(count, 100));
  });

  it('keeps the older answer, leads with the newer one, and gives signatures that can be compared again', async () => {
    const { data } = (await send('GET', `/v1/cases/${ids[5]}/diagnoses`)) as { data: Diagnosis[] };
    expect(data.map(({ result }) => result.engineVersion)).toHaveLength(2);
    const { rows } = await sql('select distinct version from case_signature where org_id = $1', []);
    expect(rows).toHaveLength(1);
    const { data: similar } = await send('GET', `/v1/cases/${ids[5]}/similar`);
    expect(similar.length).toBeGreaterThan(0);
  });

  it('answers as the single case is answered', async () => {
    const stored = ((await send('GET', `/v1/cases/${ids[7]}/diagnoses`)) as { data: Diagnosis[] }).data[0]!;
    const asked = (await send('POST', `/v1/cases/${ids[7]}/diagnoses`)) as Diagnosis;
    expect(asked.result).toEqual(stored.result);
    expect(asked.blind).toBe(stored.blind);
  });

  it('asked again it finds nothing to do, unless it is told to take all', async () => {
    const idle = await send('POST', '/v1/rediagnoses', {});
    await carryOut(idle.id);
    expect(await get(idle.id)).toMatchObject({ state: 'done', done: 0, total: 0 });
    const again = await send('POST', '/v1/rediagnoses', { again: true, since: '2026-06-02', until: '2026-06-03', shopId });
    await carryOut(again.id);
    expect(await get(again.id)).toMatchObject({ state: 'done', done: CASES, leadingChanged: 0, meanMoved: expect.closeTo(0, 9) });
  });

  it('a case whose evidence cannot be read keeps its answer and holds up nobody; one amended meanwhile is led by its newer evidence', async () => {
    await sql(`update shop_case set leading_fault = 'overcharge' where org_id = $1 and id = $2`, [ids[9]]);
    await sql(
      `insert into case_evidence (org_id, case_id, revision, document, created_at) values ($1, $2, 2, '{"conditions": {}}', now())`,
      [ids[9]],
    );
    await sql('update shop_case set evidence_revision = 2 where org_id = $1 and id = $2', [ids[9]]);
    const { id } = await send('POST', '/v1/rediagnoses', { again: true });
    await carryOut(id, async (batch) => {
      const answers = judgeBatch(batch);
      await sql('update shop_case set evidence_revision = 7, leading_fault = $3 where org_id = $1 and id = $2', [ids[11], 'moisture']);
      return answers;
    });
    expect(await get(id)).toMatchObject({ state: 'done', done: CASES, failed: 1 });
    const { rows } = await sql('select id, leading_fault from shop_case where org_id = $1 and id = any($2) order by id', [
      [ids[9], ids[11]],
    ]);
    expect(rows).toEqual([
      { id: ids[9], leading_fault: 'overcharge' },
      { id: ids[11], leading_fault: 'moisture' },
    ]);
    const failed = (await send('GET', `/v1/rediagnoses/${id}/changes?to=failed`)) as { data: RediagnosisChange[] };
    expect(failed.data.map(({ caseId }) => caseId)).toEqual([ids[9]]);
  });

  it('says the same over GraphQL and as a stream of events', async () => {
    const { body } = await graphql(
      api,
      org.keys.director,
      `{ rediagnosis(id: "${run.id}") { state done transitions { from to count } } rediagnosisChanges(id: "${run.id}", first: 2) { data { caseId } next } rediagnoses(first: 1) { data { id } } }`,
    );
    expect(body.data.rediagnosis).toMatchObject({ state: 'done', done: CASES - 1 });
    expect(body.data.rediagnosisChanges.data).toHaveLength(2);
    const heard = await listen(api, org.keys.director, `/v1/rediagnoses/${run.id}/events`, 3_000);
    expect(heard.body).toMatch(/event: done\ndata: \{"id"/);
  });

  it('is nothing to another organisation', async () => {
    const other = await testOrganisation(api);
    const answer = await request(api, other.keys.administrator, 'GET', `/v1/rediagnoses/${run.id}/changes`);
    expect([answer.status, answer.body.code]).toEqual([404, 'diagnosis/rediagnosis_not_found']);
  });
});

it('a new engine’s first answer in an organisation with an older history begins the re-diagnosis by itself, once', async () => {
  const fresh = await testOrganisation(api);
  const of = (method: string, path: string, body?: unknown) => request(api, fresh.keys.administrator, method, path, body);
  const shop = (await of('POST', '/v1/shops', newShop('other'))).body.id;
  const platform = (await of('POST', '/v1/platforms', newPlatform('other'))).body.id;
  const visit = () =>
    of('POST', '/v1/cases', {
      shopId: shop,
      vehicle: { platformId: platform },
      complaint: 'noise',
      diagnose: true,
      evidence: { readings: [psi('low-side-port', 30)] },
    });
  await visit();
  expect((await of('GET', '/v1/rediagnoses')).body.data).toEqual([]);
  await api.casebook.context.inTenant(fresh.orgId, (tx) =>
    tx.query({ name: 'test.older', text: `update diagnosis set engine_version = 'engine-0' where org_id = $1`, values: [fresh.orgId] }),
  );
  // As after a restart with the new engine.
  api.casebook.context.caughtUp.clear();
  await visit();
  await visit();
  const { data } = (await of('GET', '/v1/rediagnoses')).body as { data: Rediagnosis[] };
  expect(data).toMatchObject([{ state: 'waiting', engineVersion: ENGINE_VERSION, request: {} }]);
  expect(await api.casebook.rediagnosis.catchUp(fresh.orgId)).toBe(false);
});
