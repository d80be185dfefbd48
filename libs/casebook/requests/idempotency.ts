import { createHash } from 'node:crypto';
import { DomainError, instantText } from '#libs/contracts/index.js';
import type { Tx } from '#libs/database/index.js';
import type { Actor } from '../access/actor.js';
import type { Casebook } from '../casebook.js';

export class KeyInUse extends DomainError {
  readonly kind = 'conflict' as const;
  readonly code = 'requests/key_in_use';
  override readonly retryAfterSeconds = 1;
  constructor() {
    super('A request with this Idempotency-Key is still being carried out. Wait a second and send it again.');
  }
}

export class KeyReused extends DomainError {
  readonly kind = 'invalid' as const;
  readonly code = 'requests/key_reused';
  constructor() {
    super('This Idempotency-Key was used before for another request. Use a new key for a new request.', [
      {
        pointer: 'Idempotency-Key',
        code: 'requests/key_reused',
        detail: 'Method, path or body differ from the first request that used the key.',
        remedy: 'Send the first request unchanged to get its answer again, or choose a new key.',
      },
    ]);
  }
}

export class BadIdempotencyKey extends DomainError {
  readonly kind = 'malformed' as const;
  readonly code = 'requests/bad_key';
  constructor() {
    super('The Idempotency-Key must be 1 to 255 printable ASCII characters, bare or as a quoted string.');
  }
}

/** An answer as it was first given. */
export interface StoredAnswer {
  readonly status: number;
  readonly headers: Readonly<Record<string, string>>;
  readonly body: string;
}

/** A request may be repeated with its key for so long; clients give up after hours. */
const KEPT_MS = 7 * 86_400_000;
/** Answers that are too old, dropped with each new one: more than come in, so that none stay. */
const DROPPED_AT_ONCE = 3;

/**
 * Runs a creating request once per key. The row of the key, the data, the audit trail and the events commit in one transaction, so that a
 * repetition finds either the stored answer or nothing at all. Only answers of success are stored: a failure really runs again.
 * Keys are separate for each credential; a repetition with another method, path or body is refused.
 */
export async function once(
  casebook: Casebook,
  actor: Actor,
  rawKey: string,
  request: { readonly method: string; readonly path: string; readonly body: unknown },
  work: (casebook: Casebook) => Promise<StoredAnswer>,
): Promise<StoredAnswer & { readonly replayed: boolean }> {
  const key = plainKey(rawKey);
  const fingerprint = createHash('sha256')
    .update(`${request.method} ${request.path}\n`)
    .update(JSON.stringify(request.body) ?? '')
    .digest();
  return casebook.context.inTenant(actor.orgId, async (tx) => {
    if (!(await tryLock(tx, `${actor.orgId}/${actor.credentialId}/${key}`))) throw new KeyInUse();
    const stored = await findAnswer(tx, actor, key);
    if (stored) {
      if (!fingerprint.equals(stored.fingerprint)) throw new KeyReused();
      return { status: stored.status, headers: stored.headers, body: stored.body, replayed: true };
    }
    const answer = await work(casebook.within(tx, actor.orgId));
    await tx.query({
      name: 'requests.drop-old-answers',
      text: `delete from idempotency_key
              where (org_id, credential_id, key) in (select org_id, credential_id, key from idempotency_key
                                                      where org_id = $1 and created_at < $2 order by created_at limit $3 for update skip locked)
                and org_id = $1`,
      values: [actor.orgId, instantText(new Date(casebook.context.clock().getTime() - KEPT_MS)), DROPPED_AT_ONCE],
    });
    await tx.query({
      name: 'requests.store-answer',
      text: `insert into idempotency_key (org_id, credential_id, key, fingerprint, status, headers, body, created_at)
             values ($1, $2, $3, $4, $5, $6, $7, $8)`,
      values: [
        actor.orgId,
        actor.credentialId,
        key,
        fingerprint,
        answer.status,
        JSON.stringify(answer.headers),
        answer.body,
        instantText(casebook.context.clock()),
      ],
    });
    return { ...answer, replayed: false };
  });
}

/** The key of an Idempotency-Key header, bare or quoted. @throws BadIdempotencyKey */
export function plainKey(raw: string): string {
  const key = raw.length >= 2 && raw.startsWith('"') && raw.endsWith('"') ? raw.slice(1, -1) : raw;
  if (!/^[\x21-\x7e][\x20-\x7e]{0,254}$/.test(key)) throw new BadIdempotencyKey();
  return key;
}

async function tryLock(tx: Tx, name: string): Promise<boolean> {
  const { rows } = await tx.query<{ locked: boolean }>({
    name: 'requests.lock-key',
    text: 'select pg_try_advisory_xact_lock(hashtextextended($1, 1)) as locked',
    values: [name],
  });
  return rows[0]!.locked;
}

async function findAnswer(tx: Tx, actor: Actor, key: string) {
  const { rows } = await tx.query<StoredAnswer & { fingerprint: Buffer }>({
    name: 'requests.find-answer',
    text: 'select fingerprint, status, headers, body from idempotency_key where org_id = $1 and credential_id = $2 and key = $3',
    values: [actor.orgId, actor.credentialId, key],
  });
  return rows[0] ?? null;
}
