import { pipeline, Readable } from 'node:stream';
import { brotliCompress, constants, createBrotliCompress, createGzip, gzip } from 'node:zlib';
import type { FastifyInstance, FastifyReply } from 'fastify';

type Coding = 'br' | 'gzip';

/** Shorter answers fit into a packet anyhow. */
const LEAST_CHARACTERS = 1_024;
/** Text gains; streams of events must leave at once, and pictures are compressed already. */
const WORTHWHILE = new Set([
  'application/json',
  'application/x-ndjson',
  'application/javascript',
  'application/yaml',
  'application/xml',
  'image/svg+xml',
]);
const GZIP = { level: 5 };
const BROTLI = { params: { [constants.BROTLI_PARAM_QUALITY]: 4, [constants.BROTLI_PARAM_MODE]: constants.BROTLI_MODE_TEXT } };

/**
 * Compresses answers for those who ask for it (RFC 9110, sections 8.4 and 12.5.3). Left as they are: parts, what carries a strong ETag (it names the
 * bytes, section 8.8.3.3), and what says `no-transform`, as every answer with a fresh secret does: its length would tell of it (BREACH, 2013).
 */
export function compressAnswers(fastify: FastifyInstance): void {
  fastify.addHook('onSend', (request, reply, payload, done) => {
    if (request.method === 'HEAD' || !isCompressible(reply, payload)) return done(null, payload);
    addVary(reply, 'Accept-Encoding');
    const accepted = request.headers['accept-encoding'];
    const coding = accepted === undefined ? null : preferredCoding(String(accepted));
    if (coding === null) return done(null, payload);
    if (payload instanceof Readable) {
      const compressor = coding === 'br' ? createBrotliCompress(BROTLI) : createGzip(GZIP);
      // What breaks on the way ends the answer; who reads it sees that it is cut.
      pipeline(payload, compressor, () => {});
      mark(reply, coding);
      return done(null, compressor);
    }
    const finished = (error: Error | null, bytes: Buffer) => {
      if (error === null) mark(reply, coding);
      done(null, error === null ? bytes : payload);
    };
    const plain = payload as string | Buffer;
    if (coding === 'br') brotliCompress(plain, BROTLI, finished);
    else gzip(plain, GZIP, finished);
  });
}

function isCompressible(reply: FastifyReply, payload: unknown): boolean {
  const isText = (typeof payload === 'string' || Buffer.isBuffer(payload)) && payload.length >= LEAST_CHARACTERS;
  if (!isText && !(payload instanceof Readable)) return false;
  if (reply.statusCode < 200 || [204, 206, 304].includes(reply.statusCode) || reply.hasHeader('content-encoding')) return false;
  if (String(reply.getHeader('etag') ?? 'W/').startsWith('"')) return false;
  if (String(reply.getHeader('cache-control') ?? '').includes('no-transform')) return false;
  return isWorthwhile(
    String(reply.getHeader('content-type') ?? '')
      .split(';', 1)[0]!
      .trim(),
  );
}

function isWorthwhile(type: string): boolean {
  if (type.startsWith('text/')) return type !== 'text/event-stream';
  return WORTHWHILE.has(type) || (type.startsWith('application/') && type.endsWith('+json'));
}

function mark(reply: FastifyReply, coding: Coding): void {
  reply.header('content-encoding', coding).removeHeader('content-length');
}

function addVary(reply: FastifyReply, name: string): void {
  const vary = String(reply.getHeader('vary') ?? '');
  if (!vary.includes(name)) reply.header('vary', vary === '' ? name : `${vary}, ${name}`);
}

const choices = new Map<string, Coding | null>();

/** The better of the two that is accepted; at equal weight the smaller. */
export function preferredCoding(header: string): Coding | null {
  let chosen = choices.get(header);
  if (chosen === undefined) {
    const weights = new Map(
      header.split(',').map((part) => {
        const [name, ...parameters] = part.split(';').map((one) => one.trim().toLowerCase());
        const q = parameters.find((one) => one.startsWith('q='));
        return [name!, q === undefined ? 1 : Number(q.slice(2)) || 0] as const;
      }),
    );
    const weight = (coding: string) => weights.get(coding) ?? weights.get('*') ?? 0;
    const [br, gz] = [weight('br'), weight('gzip')];
    chosen = br > 0 && br >= gz ? 'br' : gz > 0 ? 'gzip' : null;
    if (choices.size < 100) choices.set(header, chosen);
  }
  return chosen;
}
