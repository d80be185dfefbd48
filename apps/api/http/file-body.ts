import type { FastifyInstance, FastifyRequest } from 'fastify';
import type { ImportFormat } from '#libs/contracts/index.js';
import { BadContentDigest, UnsupportedEncoding, UnsupportedFile } from './transport.errors.js';

const FORMATS: Readonly<Record<string, ImportFormat>> = {
  'application/x-ndjson': 'ndjson',
  'application/jsonl': 'ndjson',
  'text/csv': 'csv',
  'text/tab-separated-values': 'csv',
};

/** Files are handed on as they arrive: nothing of them is gathered here. */
export function acceptFiles(fastify: FastifyInstance): void {
  for (const type of Object.keys(FORMATS)) fastify.addContentTypeParser(type, (_request, payload, done) => done(null, payload));
}

export interface SentFile {
  readonly format: ImportFormat;
  readonly gzip: boolean;
  readonly bytes: AsyncIterable<Buffer>;
  readonly statedDigest: Buffer | null;
}

/** The file a request carries. @throws UnsupportedFile, UnsupportedEncoding, BadContentDigest */
export function fileOf(request: FastifyRequest): SentFile {
  const type = (request.headers['content-type'] ?? '').split(';')[0]!.trim().toLowerCase();
  const format = FORMATS[type];
  if (!format) throw new UnsupportedFile(type);
  const encoding = (request.headers['content-encoding'] ?? 'identity').trim().toLowerCase();
  if (encoding !== 'identity' && encoding !== 'gzip') throw new UnsupportedEncoding(encoding);
  return {
    format,
    gzip: encoding === 'gzip',
    bytes: request.body as AsyncIterable<Buffer>,
    statedDigest: digestOf(request.headers['content-digest']),
  };
}

/** SHA-256 from Content-Digest (RFC 9530); other algorithms are passed over. */
function digestOf(header: unknown): Buffer | null {
  if (typeof header !== 'string') return null;
  const match = /(?:^|,)\s*sha-256=:([A-Za-z0-9+/]+={0,2}):/.exec(header);
  if (!match) return null;
  const digest = Buffer.from(match[1]!, 'base64');
  if (digest.length !== 32) throw new BadContentDigest();
  return digest;
}
