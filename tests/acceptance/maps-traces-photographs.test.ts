import { afterAll, beforeAll, describe, expect, it } from '@jest/globals';
import { NEW_PHOTOGRAPH_EXAMPLE } from '#apps/api/photographs/photographs.examples.js';
import type { Case, Diagnosis, DiagnosisResult } from '#libs/contracts/index.js';
import { signatureDimensions } from '#libs/engine/index.js';
import { graphql, newPlatform, newShop, request, type TestApi, type TestOrganisation, testApi, testOrganisation } from '../support/api.js';

let api: TestApi;
let org: TestOrganisation;
let shopId: string;
let platformId: string;
beforeAll(async () => {
  api = await testApi();
  org = await testOrganisation(api);
  shopId = (await send('POST', '/v1/shops', newShop('first'))).id;
  platformId = (await send('POST', '/v1/platforms', newPlatform('heron'))).id;
}, 180_000);
afterAll(() => api?.close(), 60_000);

async function send(method: string, path: string, body?: unknown) {
  const answer = await request(api, org.keys.technician, method, path, body);
  if (answer.status < 300) return answer.body;
  const again = await request(api, org.keys.administrator, method, path, body);
  if (again.status >= 300) throw new Error(`${method} ${path}: ${again.status} ${JSON.stringify(again.body)}`);
  return again.body;
}
const refusal = (evidence: unknown) => request(api, org.keys.technician, 'POST', '/v1/diagnoses', { ...SYSTEM, evidence });

const SYSTEM = {
  elevationM: 300,
  system: { layout: 'valve-integral-receiver', compressor: 'fixed-clutch', refrigerant: 'R-134a', chargeG: 560 },
};
const CONDITIONS = {
  outsideAir: { value: 30, unit: 'Cel' },
  condenserAir: { value: 31, unit: 'Cel' },
  airSource: 'recirculated',
  minutesRunning: 12,
};
const READINGS = [
  { quantity: 'pressure', place: 'high-side-port', phase: 'running', reference: 'vented-gauge', value: 190, unit: '[psi]' },
  { quantity: 'pressure', place: 'low-side-port', phase: 'running', reference: 'vented-gauge', value: 30, unit: '[psi]' },
];
/** Sixteen rows of eight, a step of 15 K at half height: passes below are starved. */
const GRID = Array.from({ length: 16 }, (_, i) => Array.from({ length: 8 }, (_, j) => 56 - 0.3 * i - (i >= 8 ? 15 : 0) - 0.1 * j));
const CSV = GRID.map((row) => row.map((t) => t.toFixed(2).replace('.', ',')).join(';')).join('\r\n');
/** A low side that swings between 1.6 and 3.1 bar, 10 s on, 10 s off. */
const TRACE = {
  place: 'low-side-port',
  unit: 'bar',
  reference: 'vented-gauge',
  samples: Array.from({ length: 240 }, (_, i) => {
    const phase = (i / 2) % 20;
    return { second: i / 2, value: phase < 10 ? 3.1 - 0.15 * phase : 1.6 + 0.15 * (phase - 10) };
  }),
};
const at = (result: DiagnosisResult, name: string) => result.signature.values[signatureDimensions.indexOf(name)];
const judge = (evidence: unknown): Promise<DiagnosisResult> => send('POST', '/v1/diagnoses', { ...SYSTEM, evidence });

describe('a thermal map', () => {
  it('as CSV, as rows and over GraphQL gives one answer, and feeds the signature', async () => {
    const without = await judge({ conditions: CONDITIONS, readings: READINGS });
    expect([at(without, 'pass-step'), at(without, 'cold-rows')]).toEqual([null, null]);
    const byCsv = await judge({ conditions: CONDITIONS, readings: READINGS, thermalMaps: [{ unit: 'Cel', csv: CSV }] });
    expect(at(byCsv, 'pass-step')).toBeGreaterThan(2);
    expect(at(byCsv, 'cold-rows')).not.toBeNull();
    const rows = GRID.map((row) => row.map((t) => Number(t.toFixed(2))));
    expect(await judge({ conditions: CONDITIONS, readings: READINGS, thermalMaps: [{ unit: 'Cel', rows }] })).toEqual(byCsv);
    const { body } = await graphql(
      api,
      org.keys.technician,
      'query ($input: DiagnosisQuestionInput!) { diagnoseReadings(input: $input) { signature { values } } }',
      {
        input: {
          elevationM: 300,
          system: { layout: 'valve_integral_receiver', compressor: 'fixed_clutch', refrigerant: 'R_134a', chargeG: 560 },
          evidence: {
            conditions: { ...CONDITIONS, airSource: 'recirculated' },
            readings: READINGS.map((one) => ({ ...one, place: one.place.replaceAll('-', '_'), reference: 'vented_gauge' })),
            thermalMaps: [{ unit: 'Cel', csv: CSV }],
          },
        },
      },
    );
    expect(body.data.diagnoseReadings.signature.values).toEqual(byCsv.signature.values);
  });

  it('is stored as rows, and the stored case is judged by it', async () => {
    const opened = (await send('POST', '/v1/cases', {
      shopId,
      vehicle: { platformId },
      complaint: 'cools-poorly',
      evidence: { conditions: CONDITIONS, readings: READINGS, thermalMaps: [{ unit: 'Cel', csv: CSV }], traces: [TRACE] },
    })) as Case;
    expect(opened.evidence.thermalMaps[0]!.rows).toHaveLength(16);
    expect(opened.evidence.thermalMaps[0]).not.toHaveProperty('csv');
    const { result } = (await send('POST', `/v1/cases/${opened.id}/diagnoses`)) as Diagnosis;
    expect(at(result, 'pass-step')).toBeGreaterThan(2);
    expect(at(result, 'duty')).not.toBeNull();
  });

  it('that cannot be read is refused with its line', async () => {
    const answer = await refusal({ thermalMaps: [{ unit: 'Cel', csv: '50,51\n50,warm' }] });
    expect([answer.status, answer.body.errors[0].pointer]).toEqual([422, '/evidence/thermalMaps/0/csv']);
    expect(answer.body.errors[0].detail).toMatch(/Line 2, column 2: "warm"/);
  });
});

describe('a pressure trace', () => {
  it('that cycles tells the duty of the clutch, which feeds the signature', async () => {
    const result = await judge({ conditions: CONDITIONS, readings: READINGS, traces: [TRACE] });
    expect(at(result, 'duty')).not.toBeNull();
    expect(result.traces![0]!.cycling).not.toBeNull();
  });

  it('in a unit it cannot be in is refused with the likely slip', async () => {
    const answer = await refusal({
      traces: [{ ...TRACE, samples: TRACE.samples.map(({ second, value }) => ({ second, value: value * 100 })) }],
    });
    expect([answer.status, answer.body.errors[0].pointer]).toEqual([422, '/evidence/traces/0/samples']);
    const unknown = await refusal({ traces: [{ ...TRACE, unit: 'atü' }] });
    expect(unknown.body.errors[0].code).toBe('units/unknown');
  });
});

describe('pressure and enthalpy around the circuit', () => {
  const readings = [...READINGS, { quantity: 'temperature', place: 'compressor-suction', phase: 'running', value: 12, unit: 'Cel' }];
  const ask = (evidence: object) => request(api, org.keys.director, 'POST', '/v1/cycles', { platformId, shopId, evidence });

  it('are the same for readings, for a case that holds them, and over GraphQL', async () => {
    const typed = await ask({ conditions: CONDITIONS, readings });
    expect(typed.status).toBe(200);
    expect(typed.body.healthy).toHaveLength(7);
    expect(typed.body.seen.map(({ place, phase }: { place: string; phase: string | null }) => [place, phase])).toEqual([
      ['compressor-suction', 'vapour'],
      ['valve-inlet', null],
    ]);
    const opened = await send('POST', '/v1/cases', {
      shopId,
      vehicle: { platformId },
      complaint: 'cools-poorly',
      evidence: { conditions: CONDITIONS, readings },
    });
    const stored = await request(api, org.keys.director, 'GET', `/v1/cases/${opened.id}/cycles`);
    const bare = (cycles: { seen: { readings: string[] }[] }) => ({
      ...cycles,
      seen: cycles.seen.map((state) => ({ ...state, readings: state.readings.length })),
    });
    expect(bare(stored.body)).toEqual(bare(typed.body));
    const twin = await graphql(api, org.keys.director, `{ cyclesOfCase(caseId: "${opened.id}") { healthy { pressurePa } cautions } }`);
    expect(twin.body.data.cyclesOfCase.healthy).toEqual(
      typed.body.healthy.map(({ pressurePa }: { pressurePa: number }) => ({ pressurePa })),
    );
    const curve = await request(api, org.keys.director, 'GET', '/v1/saturation?refrigerant=R-134a');
    expect(curve.headers.get('cache-control')).toBe('private, max-age=86400');
    const zero = curve.body.points.find(({ temperatureK }: { temperatureK: number }) => Math.abs(temperatureK - 273.15) < 1e-6);
    expect(zero.liquidEnthalpyJPerKg).toBeCloseTo(200_000, 0);
  });

  it('are refused for a car whose system is not known, and for readings that cannot be', async () => {
    const opened = await send('POST', '/v1/cases', { shopId, vehicle: {}, complaint: 'noise' });
    const unknown = await request(api, org.keys.technician, 'GET', `/v1/cases/${opened.id}/cycles`);
    expect([unknown.status, unknown.body.code]).toEqual([422, 'diagnosis/system_unknown']);
    const impossible = await ask({ readings: [{ ...READINGS[0], value: 19_000 }] });
    expect([impossible.status, impossible.body.code]).toEqual([422, 'cases/implausible']);
    expect((await request(api, org.keys.director, 'GET', '/v1/saturation?refrigerant=R-12')).status).toBe(422);
  });
});

describe('a photograph', () => {
  const opened = async () =>
    (await send('POST', '/v1/cases', { shopId, vehicle: { vin: '1M8GDM9AXKP042788', platformId }, complaint: 'cools-poorly' })) as Case;
  const add = (key: string, caseId: string, parts: object = {}, headers: Record<string, string> = {}) =>
    request(api, key, 'POST', `/v1/cases/${caseId}/photographs`, { ...NEW_PHOTOGRAPH_EXAMPLE, ...parts }, headers);
  const codes = async (key: string) =>
    ((await request(api, key, 'GET', '/v1/audit?first=5')).body.data as { action: string }[]).map(({ action }) => action);

  it('is kept without what it said about camera and place, handed out as a file and nothing else, and removed', async () => {
    const { id } = await opened();
    const comment = Buffer.from('taken at home');
    const text = Buffer.alloc(8);
    text.writeUInt32BE(comment.length, 0);
    text.write('tEXt', 4, 'latin1');
    const plain = Buffer.from(NEW_PHOTOGRAPH_EXAMPLE.data, 'base64');
    const dirty = Buffer.concat([plain.subarray(0, 33), text, comment, Buffer.alloc(4), plain.subarray(33)]);
    const made = await add(org.keys.technician, id, { data: dirty.toString('base64') }, { 'idempotency-key': 'photo' });
    expect([made.status, made.body]).toMatchObject([201, { caseId: id, mediaType: 'image/png', widthPx: 1, bytes: plain.length }]);
    expect(made.body).not.toHaveProperty('data');
    const again = await add(org.keys.technician, id, { data: dirty.toString('base64') }, { 'idempotency-key': 'photo' });
    expect([again.body.id, again.headers.get('idempotency-replayed')]).toEqual([made.body.id, 'true']);
    const path = `/v1/cases/${id}/photographs`;
    expect((await request(api, org.keys.director, 'GET', path)).body.data).toEqual([made.body]);
    const fetched = await fetch(`${api.url}${path}/${made.body.id}`, { headers: { authorization: `Bearer ${org.keys.director}` } });
    expect(Buffer.from(await fetched.arrayBuffer())).toEqual(plain);
    expect(Object.fromEntries(fetched.headers)).toMatchObject({
      'content-type': 'image/png',
      'content-length': String(plain.length),
      'content-disposition': `attachment; filename="photograph-${made.body.id}.png"`,
      'content-security-policy': "default-src 'none'; sandbox; frame-ancestors 'none'",
      'x-content-type-options': 'nosniff',
      'cross-origin-resource-policy': 'same-origin',
      'cache-control': 'no-store',
      etag: `"${made.body.sha256}"`,
    });
    const known = await request(api, org.keys.director, 'GET', `${path}/${made.body.id}`, undefined, {
      'if-none-match': `"${made.body.sha256}"`,
    });
    expect([known.status, known.body]).toEqual([304, '']);
    const twin = await graphql(api, org.keys.director, `{ photographs(caseId: "${id}") { id subject stage caption mediaType sha256 } }`);
    expect(twin.body.data.photographs).toMatchObject([{ id: made.body.id, subject: 'filter_cartridge', sha256: made.body.sha256 }]);
    expect(await codes(org.keys.director)).toContain('case.photographed');
    const refused = await request(api, org.keys.director, 'DELETE', `${path}/${made.body.id}`);
    expect(refused.status).toBe(403);
    const gone = await graphql(api, org.keys.technician, `mutation { removePhotograph(caseId: "${id}", id: "${made.body.id}") { id } }`);
    expect(gone.body.data.removePhotograph.id).toBe(made.body.id);
    expect((await request(api, org.keys.technician, 'GET', `${path}/${made.body.id}`)).body.code).toBe('photographs/not_found');
    expect(await codes(org.keys.director)).toContain('case.photograph-removed');
  });

  it('that is none, too large, one too many, or of somebody without the right to write is refused', async () => {
    const { id } = await opened();
    const page = Buffer.from('<!doctype html><script>alert(document.cookie)</script>').toString('base64');
    const refused = await add(org.keys.technician, id, { data: page });
    expect([refused.status, refused.body.code, refused.body.errors[0].pointer]).toEqual([422, 'photographs/not_a_picture', '/data']);
    const large = await add(org.keys.technician, id, { data: 'A'.repeat(900_000) });
    expect([large.status, large.body.errors[0].pointer]).toEqual([422, '/data']);
    expect((await add(org.keys.director, id)).status).toBe(403);
    for (let i = 0; i < 12; i++) expect((await add(org.keys.technician, id)).status).toBe(201);
    const over = await add(org.keys.technician, id);
    expect([over.status, over.body.code]).toEqual([409, 'photographs/too_many']);
  });

  it('goes with the car that is forgotten, and of no other case', async () => {
    const [first, other] = [
      await opened(),
      (await send('POST', '/v1/cases', { shopId, vehicle: { platformId }, complaint: 'noise' })) as Case,
    ];
    for (const { id } of [first, other]) expect((await add(org.keys.technician, id)).status).toBe(201);
    expect((await request(api, org.keys.administrator, 'DELETE', `/v1/vehicles/${first.vehicleId}`)).status).toBe(200);
    const left = async (id: string) => (await request(api, org.keys.technician, 'GET', `/v1/cases/${id}/photographs`)).body.data.length;
    expect([await left(first.id), await left(other.id)]).toEqual([0, 1]);
  });
});
