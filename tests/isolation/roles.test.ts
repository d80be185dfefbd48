import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, it } from '@jest/globals';
import { buildSchema } from 'graphql';
import { describedOperations } from '#apps/api/http/operation.js';
import { contractDocuments } from '#apps/cli/contract.js';
import { ROLE_PERMISSIONS } from '#libs/casebook/index.js';
import { PERMISSIONS, type Permission } from '#libs/contracts/index.js';
import type { Document } from '../contract/compare.js';
import { TWINS } from '../contract/documents.js';
import { request, type TestApi, testApi } from '../support/api.js';
import { graphqlProbes, type Probe, restProbes } from './probes.js';
import { sendProbe } from './sending.js';
import { buildWorld, ROLES, type World } from './world.js';

/** Every role at every operation, over both transports: refused exactly where the description says that a permission is missing. */
let api: TestApi;
let world: World;
let probes: Probe[];
const permissionOf = (operationId: string): Permission | undefined =>
  describedOperations().find(({ id }) => id === operationId)!.permission;

beforeAll(async () => {
  const made = await contractDocuments();
  const document = JSON.parse(made.openApi) as Document;
  api = await testApi();
  world = await buildWorld(api, '1M8GDM9AXKP042788');
  // One probe an operation and transport; those by path name something that is nowhere, so that nothing is changed.
  const all = [...restProbes(document, world), ...graphqlProbes(buildSchema(made.sdl), document, world)];
  const seen = new Set<string>();
  probes = all.filter(({ operationId, rest }) => {
    const once = `${operationId} ${rest === undefined}`;
    if (seen.has(once)) return false;
    seen.add(once);
    return true;
  });
});
afterAll(() => api?.close());

async function refusals(key: string, mayDo: readonly Permission[]): Promise<string[]> {
  const wrong: string[] = [];
  for (const probe of probes) {
    const needed = permissionOf(probe.operationId);
    const heard = await sendProbe(api, key, probe, randomUUID());
    const refused = heard.code === 'access/forbidden';
    if (refused !== (needed !== undefined && !mayDo.includes(needed)))
      wrong.push(`${probe.name}: ${heard.status} ${heard.code}, needs ${needed}`);
    if (refused && probe.rest && heard.status !== 403) wrong.push(`${probe.name}: refused with ${heard.status}`);
  }
  return wrong;
}

describe('roles', () => {
  it('are known for every operation of both transports', () => {
    const restOnly = Object.values(TWINS).filter((twin) => twin === null).length;
    expect(probes.length).toBe(2 * describedOperations().length - restOnly);
    const free = probes.filter(({ operationId }) => permissionOf(operationId) === undefined).map(({ operationId }) => operationId);
    expect([...new Set(free)].sort()).toEqual([
      'changeOwnPin',
      'endSession',
      'getSession',
      'importTemplate',
      'keyUsage',
      'listFaults',
      'listSessionPeople',
      'listUnits',
      'me',
      'openSession',
      'saturationCurve',
      'signIn',
      'signOut',
    ]);
  });

  it.each(ROLES)('%s may do what is declared and nothing else', async (role) => {
    expect(await refusals(world.org.keys[role], ROLE_PERMISSIONS[role])).toEqual([]);
  });

  it('a key narrower than its role does less, one permission at a time', async () => {
    for (const only of [[], ...PERMISSIONS.map((one) => [one])] as Permission[][]) {
      const issued = await request(api, world.org.keys.administrator, 'POST', '/v1/keys', {
        name: 'narrow',
        role: 'administrator',
        permissions: only,
        shopIds: null,
        expiresAt: null,
      });
      const wrong: string[] = [];
      for (const probe of probes.filter(({ rest }) => rest !== undefined)) {
        const needed = permissionOf(probe.operationId);
        if (needed === undefined || only.includes(needed)) continue;
        const heard = await sendProbe(api, issued.body.secret, probe, randomUUID());
        if (heard.status !== 403) wrong.push(`${probe.name} with ${only}: ${heard.status}`);
      }
      expect(wrong).toEqual([]);
    }
  });

  it('no key, a damaged key and an ended key open nothing that is not open to all', async () => {
    const issued = await request(api, world.org.keys.administrator, 'POST', '/v1/keys', {
      name: 'ended',
      role: 'administrator',
      shopIds: null,
      expiresAt: '2020-01-01T00:00:00Z',
    });
    for (const key of ['', `${world.org.keys.director}x`, issued.body.secret]) {
      for (const probe of probes) {
        const heard = await sendProbe(api, key, probe, randomUUID());
        const open = ['importTemplate', 'listUnits'].includes(probe.operationId) && probe.rest !== undefined;
        expect([probe.name, heard.status]).toEqual([probe.name, open ? 200 : 401]);
      }
    }
  });
});
