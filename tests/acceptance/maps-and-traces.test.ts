import { afterAll, beforeAll, describe, expect, it } from '@jest/globals';
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
