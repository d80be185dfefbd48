import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import type { IncomingHttpHeaders } from 'node:http';
import { createServer } from 'node:https';
import { isIPv6 } from 'node:net';
import { networkInterfaces, tmpdir } from 'node:os';
import { join } from 'node:path';

export interface Got {
  readonly headers: Readonly<Record<string, string>>;
  readonly body: string;
  /** Answered with success, as far as the receiver knows. */
  readonly accepted: boolean;
}

/** A receiver of webhooks as shops run them: over TLS with a certificate of their own, in a private network, and not always well. */
export interface Receiver {
  readonly url: string;
  /** The environment that lets the service deliver to it. */
  readonly environment: Readonly<Record<string, string>>;
  /** What came whole, in its order. */
  readonly got: readonly Got[];
  close(): Promise<void>;
}

/** How a receiver may fail. Accepted and cut off before the answer is the one that makes it hear twice. */
export type Mood = 'well' | 'cut' | 'hangs' | number;

export async function privateReceiver(moodOf: () => Mood): Promise<Receiver> {
  const address = privateAddress();
  const directory = mkdtempSync(join(tmpdir(), 'coolback-receiver-'));
  const key = join(directory, 'key.pem');
  const cert = join(directory, 'cert.pem');
  execFileSync(
    'openssl',
    [
      ...['req', '-x509', '-newkey', 'ec', '-pkeyopt', 'ec_paramgen_curve:prime256v1', '-nodes', '-days', '2', '-subj', '/CN=receiver'],
      ...['-addext', `subjectAltName=IP:${address}`, '-keyout', key, '-out', cert],
    ],
    { stdio: 'ignore' },
  );
  const got: Got[] = [];
  const server = createServer({ key: readFileSync(key), cert: readFileSync(cert) }, (incoming, outgoing) => {
    let body = '';
    incoming.setEncoding('utf8').on('data', (text: string) => (body += text));
    // A sender that was killed in the middle.
    incoming.on('error', () => {});
    incoming.on('end', () => {
      const mood = moodOf();
      got.push({ headers: plain(incoming.headers), body, accepted: mood === 'well' });
      if (mood === 'well') outgoing.writeHead(204).end();
      else if (mood === 'cut') incoming.socket.destroy();
      else if (mood !== 'hangs') outgoing.writeHead(mood, { location: 'https://127.0.0.1/', 'retry-after': '1' }).end();
    });
  });
  server.on('tlsClientError', () => {});
  await new Promise<void>((done) => server.listen(0, address, done));
  const { port } = server.address() as { port: number };
  return {
    url: `https://${isIPv6(address) ? `[${address}]` : address}:${port}/hooks`,
    environment: { COOLBACK_PRIVATE_NETWORKS: `${address}/${isIPv6(address) ? 128 : 32}`, NODE_EXTRA_CA_CERTS: cert },
    got,
    close: async () => {
      const closed = new Promise((done) => server.close(done));
      server.closeAllConnections();
      await closed;
      rmSync(directory, { recursive: true, force: true });
    },
  };
}

const plain = (headers: IncomingHttpHeaders): Record<string, string> =>
  Object.fromEntries(Object.entries(headers).map(([name, value]) => [name, String(value)]));

/** An address of this machine in a private network (RFC 1918, RFC 4193): loopback is never delivered to. */
function privateAddress(): string {
  const all = Object.values(networkInterfaces()).flatMap((list) => list ?? []);
  const found = all.find(({ address }) => /^(10\.|192\.168\.|172\.(1[6-9]|2\d|3[01])\.|f[cd])/i.test(address) && !address.includes('%'));
  if (!found)
    throw new Error(
      'this machine has no address in a private network to receive webhooks at; give it one, e.g. ip address add fd00::2/64 dev lo',
    );
  return found.address;
}
