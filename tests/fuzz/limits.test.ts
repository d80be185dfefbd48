import { type ChildProcess, fork } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { connect } from 'node:net';
import { join } from 'node:path';
import { Readable } from 'node:stream';
import { createGzip } from 'node:zlib';
import { afterAll, beforeAll, expect, it } from '@jest/globals';
import { migrationsDirectory } from '#libs/database/index.js';
import { newShop, request, type TestApi, type TestOrganisation, testApi, testOrganisation } from '../support/api.js';

const MAIN = join(migrationsDirectory(), '..', '..', 'dist', 'apps', 'api', 'main.js');

/** The built API as a process of its own, so that its memory is its own, over the database of the test. */
let api: TestApi;
let org: TestOrganisation;
let child: ChildProcess;
let port: number;
beforeAll(async () => {
  api = await testApi();
  org = await testOrganisation(api);
  await request(api, org.keys.administrator, 'POST', '/v1/shops', newShop('quay'));
  child = fork(MAIN, [], {
    env: {
      ...process.env,
      NODE_OPTIONS: '',
      DATABASE_URL: api.database.appUrl,
      COOLBACK_SECRET: Buffer.alloc(32, 7).toString('base64'),
      COOLBACK_PORT: '0',
      COOLBACK_LOG: 'silent',
    },
    execArgv: [],
    stdio: ['ignore', 'ignore', 'inherit', 'ipc'],
  });
  port = await new Promise<number>((resolve, reject) => {
    child.once('message', (message) => resolve((message as { port: number }).port));
    child.once('exit', (code) => reject(new Error(`the API ended with ${code}`)));
  });
}, 300_000);
afterAll(async () => {
  child?.removeAllListeners('exit');
  child?.kill('SIGKILL');
  await api?.close();
});

const url = () => `http://127.0.0.1:${port}`;
const authorization = () => `Bearer ${org.keys.administrator}`;
const residentMb = (field: 'VmRSS' | 'VmHWM') =>
  Number(new RegExp(`${field}:\\s+(\\d+)`).exec(readFileSync(`/proc/${child.pid}/status`, 'utf8'))![1]) / 1024;

/** What a server says to bytes put on the wire, until it ends the connection or has said a whole head. */
function wire(head: string, body: Iterable<Buffer> | Buffer = []): Promise<string> {
  return new Promise((resolve) => {
    let heard = '';
    const socket = connect(port, '127.0.0.1');
    const parts = Buffer.isBuffer(body) ? [body] : body;
    Readable.from(
      (function* () {
        yield Buffer.from(head);
        yield* parts;
      })(),
    ).pipe(socket, { end: false });
    const end = () => {
      socket.destroy();
      resolve(heard);
    };
    socket.on('data', (bytes: Buffer) => {
      heard += bytes.toString('latin1');
      if (heard.includes('\r\n\r\n')) end();
    });
    socket.once('close', end).on('error', end);
  });
}
const statusOf = (heard: string) => Number(/^HTTP\/1\.1 (\d{3})/.exec(heard)?.[1] ?? 0);
const head = (method: string, path: string, ...headers: string[]) =>
  `${[`${method} ${path} HTTP/1.1`, 'host: x', `authorization: ${authorization()}`, 'idempotency-key: k', ...headers].join('\r\n')}\r\n\r\n`;
function* endless(piece: Buffer, times: number): Generator<Buffer> {
  for (let n = 0; n < times; n++) yield piece;
}

it('what is too large, too deep or too long is refused, and the server stays up', async () => {
  const json = 'content-type: application/json';
  const ten = Buffer.alloc(10 * 2 ** 20, 0x20);
  const chunk = Buffer.concat([Buffer.from('10000\r\n'), Buffer.alloc(0x10000, 0x20), Buffer.from('\r\n')]);
  const answers: Record<string, number> = {
    'a body ten times too long': statusOf(await wire(head('POST', '/v1/cases', json, `content-length: ${ten.length}`), ten)),
    'chunks without end': statusOf(await wire(head('POST', '/v1/cases', json, 'transfer-encoding: chunked'), endless(chunk, 400))),
    'a length that is no number': statusOf(await wire(head('POST', '/v1/cases', json, 'content-length: 12a'))),
    'two lengths': statusOf(await wire(head('POST', '/v1/cases', json, 'content-length: 2', 'content-length: 3'), Buffer.from('{}x'))),
    'a length and chunks': statusOf(
      await wire(head('POST', '/v1/cases', json, 'content-length: 2', 'transfer-encoding: chunked'), Buffer.from('0\r\n\r\n')),
    ),
    'a bad chunk': statusOf(
      await wire(head('POST', '/v1/cases', json, 'transfer-encoding: chunked'), Buffer.from('zz\r\n{}\r\n0\r\n\r\n')),
    ),
    'a header of a megabyte': statusOf(await wire(head('GET', '/v1/cases', `x-long: ${'x'.repeat(2 ** 20)}`))),
    'ten thousand headers': statusOf(await wire(head('GET', '/v1/cases', ...Array.from({ length: 10_000 }, (_, n) => `x-${n}: 1`)))),
    'ten thousand parameters': statusOf(
      await wire(head('GET', `/v1/cases?${Array.from({ length: 1_200 }, (_, n) => `p${n}=1`).join('&')}`)),
    ),
    'an address of a megabyte': statusOf(await wire(head('GET', `/v1/cases?after=${'x'.repeat(2 ** 20)}`))),
  };
  for (const [what, body] of [
    ['sixty-five levels', `${'['.repeat(65)}${']'.repeat(65)}`],
    ['half a million levels', '['.repeat(500_000)],
    ['sixty-five levels of objects', `${'{"a":'.repeat(65)}1${'}'.repeat(65)}`],
  ] as const)
    answers[what] = statusOf(await wire(head('POST', '/v1/cases', json, `content-length: ${body.length}`), Buffer.from(body)));
  const form = 'content-type: multipart/form-data; boundary=x';
  const parts = Buffer.from('--x\r\ncontent-disposition: form-data; name="a"\r\n\r\n1\r\n'.repeat(10_000));
  answers['ten thousand parts'] = statusOf(await wire(head('POST', '/v1/imports', form, `content-length: ${parts.length}`), parts));
  const refused = [400, 413, 414, 415, 422, 431];
  expect(Object.entries(answers).filter(([, status]) => !refused.includes(status))).toEqual([]);
  expect((await fetch(`${url()}/livez`)).status).toBe(200);
}, 300_000);

const sendFile = (type: string, bytes: AsyncIterable<Buffer>, gzip: boolean) =>
  fetch(`${url()}/v1/imports`, {
    method: 'POST',
    headers: {
      authorization: authorization(),
      'content-type': type,
      'idempotency-key': crypto.randomUUID(),
      ...(gzip ? { 'content-encoding': 'gzip' } : {}),
    },
    body: ReadableStream.from(bytes),
    duplex: 'half',
  } as never);

it('a file that is a bomb is refused, in 64 MB more than before', async () => {
  const blank = Buffer.alloc(2 ** 20, 0x20);
  const bomb = () => Readable.from(endless(blank, 10_240)).pipe(createGzip({ level: 1 }));
  // Once in peace, so that what every first file costs is not counted.
  expect((await sendFile('application/x-ndjson', Readable.from([Buffer.from('{"complaint":"noise"}\n')]), false)).status).toBe(202);
  const before = residentMb('VmRSS');
  const heard: number[] = [];
  for (const type of ['application/x-ndjson', 'text/csv']) {
    heard.push((await sendFile(type, bomb(), true)).status);
  }
  // One line, and one quoted cell, without end.
  const long = function* (start: string) {
    yield Buffer.from(start);
    yield* endless(Buffer.alloc(2 ** 16, 0x78), 3_000);
  };
  heard.push((await sendFile('application/x-ndjson', Readable.from(long('{"a":"')), false)).status);
  heard.push((await sendFile('text/csv', Readable.from(long('shop_code,complaint\nquay,"')), false)).status);
  console.log(`answers ${heard.join(', ')}; ${before.toFixed(0)} MB before, ${residentMb('VmHWM').toFixed(0)} MB at most`);
  expect(residentMb('VmHWM') - before).toBeLessThan(64);
  // A line too long is refused when its turn comes, the others as they arrive.
  expect(heard).toEqual([413, 400, 202, 400]);
  expect((await fetch(`${url()}/livez`)).status).toBe(200);
}, 900_000);
