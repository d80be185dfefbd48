import { afterAll, beforeAll, describe, expect, it } from '@jest/globals';
import type { EngineQuality, JudgedCase } from '#libs/contracts/index.js';
import { graphql, newPlatform, newShop, request, type TestApi, type TestOrganisation, testApi, testOrganisation } from '../support/api.js';

let api: TestApi;
let org: TestOrganisation;
let platformId: string;
const shops: string[] = [];
beforeAll(async () => {
  api = await testApi();
  org = await testOrganisation(api);
  for (const code of ['first', 'second', 'third']) shops.push((await send('POST', '/v1/shops', newShop(code))).id);
  platformId = (await send('POST', '/v1/platforms', newPlatform('heron'))).id;
});
afterAll(() => api?.close(), 60_000);

async function send(method: string, path: string, body?: unknown, key = org.keys.administrator) {
  const answer = await request(api, key, method, path, body);
  if (answer.status >= 300) throw new Error(`${method} ${path}: ${answer.status} ${JSON.stringify(answer.body)}`);
  return answer.body;
}

const psi = (place: string, instrument: string, value: number, phase = 'running') => ({
  quantity: 'pressure',
  place,
  instrument,
  phase,
  reference: 'vented-gauge',
  value,
  unit: '[psi]',
});
const celsius = (place: string, value: number) => ({
  quantity: 'temperature',
  place,
  phase: 'running',
  instrument: 'thermometer',
  value,
  unit: 'Cel',
});
const CONDITIONS = { outsideAir: { value: 30, unit: 'Cel' }, airSource: 'recirculated', minutesRunning: 12, hoursSoaked: 8 };
/** The compressor does not pump: both sides stay where they stood. */
const EVEN = [
  psi('high-side-port', 'manifold-gauge', 88, 'rest'),
  psi('low-side-port', 'manifold-gauge', 88, 'rest'),
  psi('high-side-port', 'manifold-gauge', 90),
  psi('low-side-port', 'manifold-gauge', 87),
  celsius('vent', 28),
];
const SOUND = [
  psi('high-side-port', 'manifold-gauge', 185),
  psi('high-side-transducer', 'vehicle-transducer', 188),
  psi('low-side-port', 'manifold-gauge', 28),
  celsius('vent', 7),
  celsius('compressor-suction', 9),
];

interface Visit {
  readonly shop: number;
  readonly readings: readonly unknown[];
  readonly proof?: { readonly faults: readonly string[]; readonly method: string };
  readonly chargedG?: number;
  readonly recoveredG?: number;
  readonly backfill?: boolean;
}

async function visit({ shop, readings, proof, chargedG, recoveredG, backfill }: Visit): Promise<string> {
  const opened = await send('POST', '/v1/cases', {
    shopId: shops[shop],
    vehicle: { platformId },
    complaint: 'cools-not',
    openedAt: '2026-06-02T09:00:00Z',
    evidence: { conditions: CONDITIONS, readings },
    diagnose: true,
    ...(backfill ? { backfill } : {}),
  });
  if (chargedG !== undefined) {
    await send('POST', `/v1/cases/${opened.id}/repairs`, {
      fault: proof!.faults[0],
      action: 'recover-evacuate-charge',
      intent: 'permanent',
      day: '2026-06-02',
      parts: [],
      recoveredG: recoveredG ?? null,
      chargedG,
      labourHours: 1,
      cost: 100,
      note: null,
    });
  }
  if (proof) await send('POST', `/v1/cases/${opened.id}/proofs`, { ...proof, note: null });
  return opened.id;
}

const quality = (query = '', key?: string): Promise<EngineQuality> => send('GET', `/v1/engine/quality${query}`, undefined, key);
const outcomeOf = (answer: EngineQuality, outcome: string) => answer.overall!.outcomes.find((one) => one.outcome === outcome)!.share.events;

it('says of an organisation without proof that nothing is known, and shows the simulated figures for what they are', async () => {
  const empty = await quality();
  expect(empty).toMatchObject({ verdict: 'none', judged: 0, proved: 0, overall: null, reliability: null, byFault: [] });
  expect(empty.message).toMatch(/not known/);
  expect(empty.simulated.statement).toMatch(/not on vehicles/);
  expect(empty.simulated.bySet.map(({ name }) => name)).toEqual(['gauges', 'gauges-transducer', 'temperatures', 'full']);
});

describe('an organisation with proved cases', () => {
  const ids: Record<string, string> = {};
  beforeAll(async () => {
    ids['right'] = await visit({ shop: 0, readings: EVEN, proof: { faults: ['compressor-inhibited'], method: 'opened-part' } });
    ids['wrong'] = await visit({ shop: 1, readings: EVEN, proof: { faults: ['sealant'], method: 'laboratory' } });
    ids['judged'] = await visit({ shop: 1, readings: EVEN, proof: { faults: ['sealant'], method: 'judgement' } });
    ids['sound'] = await visit({ shop: 2, readings: SOUND, proof: { faults: ['healthy'], method: 'opened-part' }, backfill: true });
    ids['set'] = await visit({
      shop: 2,
      readings: SOUND,
      proof: { faults: ['moisture'], method: 'verified-after-readings' },
      chargedG: 560,
    });
    ids['weighed'] = await visit({
      shop: 2,
      readings: EVEN,
      proof: { faults: ['compressor-inhibited'], method: 'verified-after-readings' },
      chargedG: 560,
      recoveredG: 555,
    });
    ids['open'] = await visit({ shop: 0, readings: EVEN });
  });

  it('counts proof and never a judgement, by outcome, with n and interval', async () => {
    const answer = await quality();
    expect(answer).toMatchObject({ verdict: 'not-enough', judged: 7, proved: 5, waiting: 0, shops: 3 });
    expect(answer.overall!.n).toBe(5);
    expect(answer.overall!.outcomes.reduce((sum, { share }) => sum + share.events, 0)).toBe(5);
    expect(outcomeOf(answer, 'misdiagnosis') + outcomeOf(answer, 'no-response')).toBeGreaterThanOrEqual(1);
    expect(answer.overall!.top1).toMatchObject({ n: 5 });
    expect(answer.overall!.top1.low!).toBeLessThan(answer.overall!.top1.share!);
    expect(answer.overall!.logLoss!.low).toBeLessThan(answer.overall!.logLoss!.high);
    expect(answer.cautions.join(' ')).toMatch(/5 of 7 answered cases are proved/);
    expect(answer.byObservationSet.map(({ observationSet, figures }) => [observationSet, figures.n])).toEqual([
      ['gauges', 3],
      ['full', 2],
    ]);
    expect(answer.byLayout).toMatchObject([{ layout: 'valve-integral-receiver', figures: { n: 5 } }]);
    expect(answer.byProof.map(({ method, figures }) => [method, figures.n])).toEqual([
      ['opened-part', 2],
      ['laboratory', 1],
      ['verified-after-readings', 2],
    ]);
    expect(answer.reliability!.n).toBe(5);
    expect(answer.reliability!.points.reduce((sum, { n }) => sum + n, 0)).toBe(5);
  });

  it('links to the cases behind a figure; a weighed charge that nothing acquitted leaves a set', async () => {
    const { data } = (await send('GET', '/v1/engine/quality/cases?first=100')) as { data: JudgedCase[] };
    const byId = new Map(data.map((one) => [one.caseId, one]));
    expect([...byId.keys()].sort()).toEqual(['right', 'wrong', 'sound', 'set', 'weighed'].map((name) => ids[name]!).sort());
    const set = byId.get(ids['set']!)!;
    expect(set.label).toEqual(['air-in-system', 'moisture', 'overcharge', 'undercharge']);
    // Recovered 555 of 560 g acquits the charge; nobody asked for air.
    expect(byId.get(ids['weighed']!)!.label).toEqual(['air-in-system', 'compressor-inhibited']);
    expect(byId.get(ids['wrong']!)).toMatchObject({ label: ['sealant'], shown: true });
    expect(byId.get(ids['sound']!)).toMatchObject({ label: ['healthy'], shown: false });
    const right = byId.get(ids['right']!)!;
    const wrong = byId.get(ids['wrong']!)!;
    // The same readings, the same first answer; what was proved decides.
    expect(right.leading).toBe(wrong.leading);
    expect(right.rank).not.toBe(wrong.rank);
    const filtered = (await send('GET', `/v1/engine/quality/cases?fault=sealant`)) as { data: JudgedCase[] };
    expect(filtered.data.map(({ caseId }) => caseId)).toEqual([ids['wrong']]);
  });

  it('pages without repeating or hiding', async () => {
    const seen: string[] = [];
    let path = '/v1/engine/quality/cases?first=2';
    for (let pages = 0; pages < 5; pages++) {
      const page = (await send('GET', path)) as { data: JudgedCase[]; next: string | null };
      seen.push(...page.data.map(({ caseId }) => caseId));
      if (page.next === null) break;
      path = `/v1/engine/quality/cases?first=2&after=${page.next}`;
    }
    expect(seen).toHaveLength(5);
    expect(new Set(seen).size).toBe(5);
    expect((await request(api, org.keys.administrator, 'GET', `${path}&fault=sealant`)).body.code).toBe('paging/bad_cursor');
  });

  it('what was given out before the proof is asked for apart, and the history that was loaded is not among it', async () => {
    const given = await quality('?answers=given');
    expect(given.proved).toBe(4);
    const { feedback } = await quality();
    expect(feedback.shown!.n).toBe(4);
    expect(feedback.unshown!.n).toBe(1);
    expect(feedback.blindShare).toBe(0.1);
    expect((feedback.blind?.n ?? 0) + (feedback.informed?.n ?? 0)).toBe(5);
  });

  it('is corrected for what was not proved, inside its bounds', async () => {
    const { accuracy, byFault } = await quality();
    expect(accuracy.least!).toBeLessThanOrEqual(accuracy.naive!);
    expect(accuracy.most!).toBeGreaterThanOrEqual(accuracy.naive!);
    const sealant = byFault.find(({ fault }) => fault === 'sealant')!;
    expect(sealant).toMatchObject({ proved: 1, top1: { n: 1 } });
    expect(sealant.detection.least).toBe(0);
  });

  it('filters, and refuses what does not exist', async () => {
    expect((await quality(`?platformId=${platformId}&observationSet=full`)).proved).toBe(2);
    expect((await quality('?layout=orifice-accumulator')).verdict).toBe('none');
    expect((await quality('?since=2026-06-03')).proved).toBe(0);
    const unknown = await request(api, org.keys.director, 'GET', `/v1/engine/quality?platformId=${shops[0]}`);
    expect([unknown.status, unknown.body.code]).toEqual([404, 'platforms/not_found']);
  });

  it('says the same over GraphQL', async () => {
    const { body } = await graphql(
      api,
      org.keys.director,
      '{ engineQuality { proved overall { n top1 { events } } byObservationSet { observationSet } } judgedCases(first: 1) { data { caseId } next } }',
    );
    expect(body.data.engineQuality).toMatchObject({ proved: 5, overall: { n: 5 } });
    expect(body.data.judgedCases.data).toHaveLength(1);
  });

  it('is not told to a key without the permission, nor to another organisation; a key of one shop gets the figures and its own cases', async () => {
    const other = await testOrganisation(api);
    expect((await quality('', other.keys.administrator)).proved).toBe(0);
    const { key, secret } = await send('POST', '/v1/keys', {
      name: 'narrow',
      role: 'technician',
      shopIds: [shops[0]],
      permissions: ['cases:read', 'outcomes:read'],
      expiresAt: null,
    });
    expect(key.shopIds).toEqual([shops[0]]);
    expect((await quality('', secret)).proved).toBe(5);
    const listed = (await send('GET', '/v1/engine/quality/cases', undefined, secret)) as { data: JudgedCase[] };
    expect(listed.data.map(({ caseId }) => caseId)).toEqual([ids['right']]);
    const { secret: blindfolded } = await send('POST', '/v1/keys', {
      name: 'no outcomes',
      role: 'technician',
      shopIds: null,
      permissions: ['cases:read'],
      expiresAt: null,
    });
    const refused = await request(api, blindfolded, 'GET', '/v1/engine/quality');
    expect([refused.status, refused.body.code]).toEqual([403, 'access/forbidden']);
  });
});
