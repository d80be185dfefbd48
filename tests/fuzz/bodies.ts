import { gzipSync } from 'node:zlib';
import type { Document, Schema } from '../contract/compare.js';
import { withValueAt } from '../isolation/probes.js';
import { mutatedBytes, mutatedJson } from './mutations.js';
import { ODD_NAMES, ODD_NUMBERS } from './odd-values.js';
import { randomOf } from './random.js';
import { ask, faultOf, found, type Hostile, isClean, type Taking } from './world.js';

const documentedOf = ({ operation }: Taking): string[] => Object.keys(operation.responses);
const JSON_TYPES = ['application/json', 'application/merge-patch+json'];

/** Bodies of every operation, changed at a place or in their bytes. */
export async function mutatedBodies(hostile: Hostile, count: number, seed: number): Promise<string[]> {
  return found(count, async (n) => {
    const random = randomOf(seed + n);
    const one = hostile.taking[n % hostile.taking.length]!;
    const whole = random.unit() < 0.6 ? mutatedJson(one.body, random) : mutatedBytes(Buffer.from(JSON.stringify(one.body)), random);
    // As it says it is, as something else, as multipart, or compressed, which these addresses do not take.
    const dress = random.below(20);
    const boundary = '----mark';
    const body =
      dress === 0
        ? mutatedBytes(
            Buffer.from(
              `--${boundary}\r\ncontent-disposition: form-data; name="file"; filename="a.json"\r\n\r\n${whole}\r\n--${boundary}--\r\n`,
            ),
            random,
          )
        : dress === 1
          ? mutatedBytes(gzipSync(whole), random)
          : whole;
    const headers: Record<string, string> = { ...one.headers };
    if (dress === 0) headers['content-type'] = `multipart/form-data; boundary=${boundary}`;
    if (dress === 1) headers['content-encoding'] = 'gzip';
    if (dress === 2)
      headers['content-type'] = random.pick(['text/plain', 'application/json; charset=utf-16', 'application/xml', 'x', ...JSON_TYPES]);
    const answered = await ask(hostile, one.method, one.path, headers, body);
    const fault = faultOf(answered, documentedOf(one));
    return fault && `${one.operation.operationId} (${seed + n}): ${fault}\n  sent ${body.toString().slice(0, 300)}`;
  });
}

/** Documents and variables of GraphQL, changed in the same ways. A refusal there may be a success of HTTP, but never an internal error. */
export async function mutatedGraphql(hostile: Hostile, count: number, seed: number): Promise<string[]> {
  return found(count, async (n) => {
    const random = randomOf(seed + n);
    const { query, variables } = random.pick(hostile.graphql).graphql!;
    const text = random.unit() < 0.3 ? mutatedBytes(Buffer.from(query), random).toString('utf8') : query;
    const changed = random.unit() < 0.8 && Object.keys(variables).length > 0 ? mutatedJson(variables, random) : JSON.stringify(variables);
    const body = `{"query":${JSON.stringify(text.toWellFormed())},"variables":${changed}}`;
    const answered = await ask(hostile, 'POST', '/graphql', { 'content-type': 'application/json' }, body);
    const isFault = answered.status >= 500 || answered.text.includes('"code":"internal"');
    return isFault ? `graphql (${seed + n}): ${answered.status} ${answered.text.slice(0, 300)}\n  sent ${body.slice(0, 600)}` : null;
  });
}

const deref = (schema: Schema, document: Document): Schema =>
  schema.$ref === undefined ? schema : deref(document.components.schemas[schema.$ref.replace('#/components/schemas/', '')]!, document);

/** Places in a body of this schema where `is` holds; in lists, the first place. */
export function placesIn(schema: Schema, document: Document, is: (leaf: Schema) => boolean, path: readonly string[] = []): string[][] {
  const here = deref(schema, document);
  const branches = here.anyOf ?? here.oneOf;
  if (branches) return branches.flatMap((one) => placesIn(one, document, is, path));
  if (here.items) return placesIn(here.items, document, is, [...path, '0']);
  if (is(here)) return [[...path]];
  return Object.entries(here.properties ?? {}).flatMap(([name, inner]) => placesIn(inner, document, is, [...path, name]));
}

export const schemaOf = ({ operation }: Taking): Schema => Object.values(operation.requestBody!.content)[0]!.schema;

export function valueAt(value: unknown, path: readonly string[]): unknown {
  return path.reduce<unknown>(
    (at, part) => (typeof at === 'object' && at !== null ? (at as Record<string, unknown>)[part] : undefined),
    value,
  );
}

/** Every odd number in every place for a number; taken ones come back as the double they are. `share` of the pairs, evenly. */
export async function oddNumbers(hostile: Hostile, share: number): Promise<{ faults: string[]; asked: number; taken: number }> {
  const isNumber = ({ type }: Schema) => [type].flat().some((one) => one === 'number' || one === 'integer');
  const all = hostile.taking.flatMap((one) =>
    placesIn(schemaOf(one), hostile.document, isNumber).flatMap((path) => ODD_NUMBERS.map((token) => ({ one, path, token }))),
  );
  const step = Math.max(1, Math.round(1 / share));
  const pairs = all.filter((_, i) => i % step === 0);
  let taken = 0;
  const faults = await found(pairs.length, async (n) => {
    const { one, path, token } = pairs[n]!;
    const body = JSON.stringify(withValueAt(one.body, path, '@@')).replace('"@@"', token);
    const answered = await ask(hostile, one.method, one.path, one.headers, body);
    const where = `${one.operation.operationId} /${path.join('/')} ${token.slice(0, 40)}`;
    const fault = faultOf(answered, documentedOf(one));
    if (fault) return `${where}: ${fault}`;
    if (answered.status >= 300) return null;
    taken++;
    const back = valueAt(JSON.parse(answered.text), path);
    const sent: unknown = JSON.parse(token);
    // JSON has one zero only as far as its readers are concerned.
    return back === undefined || typeof sent !== 'number' || back === sent ? null : `${where}: came back as ${JSON.stringify(back)}`;
  });
  return { faults, asked: pairs.length, taken };
}

/** Names every object has already, and doubled names, as fields of bodies, in addresses and in variables. */
export async function oddNames(hostile: Hostile): Promise<string[]> {
  const refused = [400, 422];
  const faults: string[] = [];
  const want = (where: string, answered: { status: number; text: string }, statuses: readonly number[]) => {
    if (!statuses.includes(answered.status)) faults.push(`${where}: ${answered.status} ${answered.text.slice(0, 200)}`);
  };
  for (const one of hostile.taking) {
    const text = JSON.stringify(one.body);
    if (!text.startsWith('{')) continue;
    for (const name of ODD_NAMES) {
      const body = `{${JSON.stringify(name)}:{"polluted":true}${text === '{}' ? '' : ','}${text.slice(1)}`;
      want(`${one.operation.operationId} with ${name}`, await ask(hostile, one.method, one.path, one.headers, body), refused);
    }
    const doubled = `{"a":1,"\\u0061":2${text === '{}' ? '' : ','}${text.slice(1)}`;
    want(`${one.operation.operationId} doubled`, await ask(hostile, one.method, one.path, one.headers, doubled), [400]);
  }
  for (const name of ODD_NAMES.filter((one) => one !== '')) {
    for (const path of ['/v1/cases', '/v1/outcomes/recurrences', '/v1/imports'])
      want(`${path}?${name}`, await ask(hostile, 'GET', `${path}?${encodeURIComponent(name)}=1&first=2`, {}), refused);
    want(`nested ${name}`, await ask(hostile, 'GET', `/v1/cases?${encodeURIComponent(name)}[polluted]=true`, {}), refused);
    const query = 'query ($filter: CaseFilter) { cases(first: 1, filter: $filter) { next } }';
    for (const variables of [`{"filter":{${JSON.stringify(name)}:{"polluted":true}}}`, `{${JSON.stringify(name)}:{"polluted":true}}`]) {
      const body = `{"query":${JSON.stringify(query)},"variables":${variables}}`;
      const answered = await ask(hostile, 'POST', '/graphql', { 'content-type': 'application/json' }, body);
      if (answered.status >= 500 || answered.text.includes('"code":"internal"'))
        faults.push(`variables ${variables}: ${answered.text.slice(0, 200)}`);
    }
    const heading = await ask(hostile, 'POST', '/v1/imports', { 'content-type': 'text/csv' }, `shop_code,complaint,${name}\nx,noise,1\n`);
    want(`column ${name}`, heading, [422]);
  }
  if (!isClean()) faults.push('every object has got a new field');
  return faults;
}
