import { lookup } from 'node:dns';
import { request as plainRequest } from 'node:http';
import { request as tlsRequest } from 'node:https';
import { isIP, type LookupFunction } from 'node:net';
import { isPublicAddress } from './public-address.js';

/** Where deliveries may go, and where sign-in services may be asked. Plain HTTP is for tests. */
export interface AllowedTargets {
  readonly address: (address: string) => boolean;
  readonly plainHttp: boolean;
  /** Whether names that only a private network knows (`.internal`, `.local`) may be asked for; what they resolve to is judged in any case. */
  readonly privateNames?: boolean;
}
export const PUBLIC_ONLY: AllowedTargets = { address: isPublicAddress, plainHttp: false };

export interface Sent {
  readonly status: number | null;
  readonly error: string | null;
  readonly retryAfter: string | undefined;
  readonly tookMs: number;
}

const TIMEOUT_MS = 15_000;
const MAX_ANSWER_BYTES = 64 * 1024;

/** Why an address is refused before anything is resolved; null when nothing speaks against it. */
export function refusalOf(address: string, allowed: AllowedTargets): string | null {
  let url: URL;
  try {
    url = new URL(address);
  } catch {
    return 'It is not an address.';
  }
  if (url.protocol !== 'https:' && !(url.protocol === 'http:' && allowed.plainHttp)) return 'Only https addresses are delivered to.';
  if (url.username !== '' || url.password !== '') return 'An address may not hold credentials; the signature tells who sends.';
  const host = bare(url.hostname);
  if (isIP(host) !== 0 && !allowed.address(host)) return 'This address is not on the public internet.';
  if (isIP(host) === 0 && /(^|\.)(localhost|local|internal)\.?$/i.test(host) && !allowed.privateNames)
    return 'This name is not on the public internet.';
  return null;
}

const bare = (hostname: string) => hostname.replace(/^\[|\]$/g, '');

/**
 * One POST. The name is resolved here and every address it has is judged before a connection is made to one of those very addresses: a name that
 * points inwards, or changes its mind in between, gets no connection. Redirects are not followed; the answer's body is not kept.
 */
export function send(address: string, headers: Readonly<Record<string, string>>, body: string, allowed: AllowedTargets): Promise<Sent> {
  const began = Date.now();
  const took = () => Date.now() - began;
  const refused = refusalOf(address, allowed);
  if (refused) return Promise.resolve({ status: null, error: refused, retryAfter: undefined, tookMs: 0 });
  const url = new URL(address);
  return new Promise((resolve) => {
    const end = (status: number | null, error: string | null, retryAfter?: string) => {
      clearTimeout(timer);
      resolve({ status, error, retryAfter, tookMs: took() });
    };
    const request = (url.protocol === 'https:' ? tlsRequest : plainRequest)(url, {
      method: 'POST',
      agent: false,
      lookup: guardedLookup(allowed),
      headers: {
        ...headers,
        'content-type': 'application/json',
        'content-length': String(Buffer.byteLength(body)),
        'user-agent': 'coolback-webhooks/1',
      },
    });
    const timer = setTimeout(() => request.destroy(new Error(`no answer within ${TIMEOUT_MS / 1000} s`)), TIMEOUT_MS);
    request.once('error', (error) => end(null, error.message.slice(0, 200)));
    request.once('response', (response) => {
      let read = 0;
      response.on('data', (chunk: Buffer) => {
        read += chunk.length;
        if (read > MAX_ANSWER_BYTES) response.destroy();
      });
      const status = response.statusCode ?? 0;
      const done = () => end(status, status >= 200 && status < 300 ? null : `answered ${status}`, response.headers['retry-after']);
      response.once('end', done).once('close', done).once('error', done);
    });
    request.end(body);
  });
}

/** Resolves a name only to addresses that are allowed, every one of them. */
export function guardedLookup(allowed: AllowedTargets): LookupFunction {
  return (hostname, options, callback) => {
    lookup(hostname, { ...options, all: true }, (error, addresses) => {
      if (error) return callback(error, '', 0);
      const inward = addresses.find(({ address }) => !allowed.address(address));
      if (inward || addresses.length === 0) return callback(new Error('the name does not lead to the public internet'), '', 0);
      if (options.all) return callback(null, addresses as never, undefined as never);
      return callback(null, addresses[0]!.address, addresses[0]!.family);
    });
  };
}
