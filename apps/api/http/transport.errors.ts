import { DomainError } from '#libs/contracts/index.js';

export class IdempotencyKeyMissing extends DomainError {
  readonly kind = 'malformed' as const;
  readonly code = 'request/idempotency_key_missing';
  constructor() {
    super(
      'Send an Idempotency-Key header with this request, so that it can be repeated safely: any text of your own, new for each new request.',
      [
        {
          pointer: 'Idempotency-Key',
          code: 'request/idempotency_key_missing',
          detail: 'The header is missing.',
          remedy: 'For example: Idempotency-Key: "3f1c0c1e-order-4711". Repeat the same key when you repeat the request.',
        },
      ],
    );
  }
}

export class BadIfMatch extends DomainError {
  readonly kind = 'malformed' as const;
  readonly code = 'request/bad_if_match';
  constructor() {
    super('If-Match must be one strong ETag as this service gave it, e.g. If-Match: "3".');
  }
}

export { MalformedJson } from '#libs/casebook/index.js';

export class TooManyRequests extends DomainError {
  readonly kind = 'limited' as const;
  readonly code = 'request/too_many';
  constructor(override readonly retryAfterSeconds: number) {
    super(`This credential has used up its requests for now. Try again in ${retryAfterSeconds} s.`);
  }
}

export class RouteNotFound extends DomainError {
  readonly kind = 'not_found' as const;
  readonly code = 'request/no_such_route';
  constructor(method: string, path: string) {
    super(`There is no ${method} ${path} here. See /docs for everything there is.`);
  }
}

export class MethodNotAllowed extends DomainError {
  readonly kind = 'method' as const;
  readonly code = 'request/method_not_allowed';
  constructor(
    method: string,
    path: string,
    readonly allow: readonly string[],
  ) {
    super(`${path} does not take ${method}. It takes ${allow.join(', ')}.`);
  }
}

export class UnreadableRequest extends DomainError {
  readonly kind = 'malformed' as const;
  readonly code = 'request/unreadable';
  constructor(what = 'This is no HTTP request that can be read') {
    super(`${what}. Nothing was done.`);
  }
}

export class HeadersTooLarge extends DomainError {
  readonly kind = 'headers_too_large' as const;
  readonly code = 'request/headers_too_large';
  constructor() {
    super('The headers of the request are larger than 16 KiB. Send fewer cookies, or a shorter address.');
  }
}

export class RequestTimedOut extends DomainError {
  readonly kind = 'timed_out' as const;
  readonly code = 'request/timed_out';
  override readonly retryAfterSeconds = 1;
  constructor() {
    super('The request did not arrive in time. Nothing was done; send it again.');
  }
}

export class BodyTooLarge extends DomainError {
  readonly kind = 'too_large' as const;
  readonly code = 'request/body_too_large';
  constructor(limitBytes: number) {
    super(`The body is larger than ${Math.round(limitBytes / 1024)} KiB, the limit here. Send fewer readings, or several requests.`);
  }
}

export class UnsupportedBody extends DomainError {
  readonly kind = 'unsupported' as const;
  readonly code = 'request/unsupported_media_type';
  constructor(given: string) {
    super(`A body of type "${given}" is not taken here. Send application/json (or application/merge-patch+json for PATCH).`);
  }
}

/** The database cannot serve now. Nothing was stored. */
export class ServiceUnavailable extends DomainError {
  readonly kind = 'unavailable' as const;
  readonly code: string;
  override readonly retryAfterSeconds = 2;
  constructor(reason: string, options?: { cause?: unknown }) {
    super(
      reason === 'disk-full'
        ? 'The database has no room left. Nothing was stored; free some disk space and try again.'
        : reason === 'overloaded'
          ? 'More is asked than can be answered at the moment. Nothing was stored; try again in a few seconds.'
          : `The database cannot answer at the moment (${reason}). Nothing was stored; try again in a few seconds.`,
      [],
      options,
    );
    this.code = `service/${reason.replaceAll('-', '_')}`;
  }
}

export class UnsupportedFile extends DomainError {
  readonly kind = 'unsupported' as const;
  readonly code = 'request/unsupported_file';
  constructor(given: string) {
    super(`A file of type "${given}" is not taken here. Send application/x-ndjson, text/csv or text/tab-separated-values.`);
  }
}

export class UnsupportedEncoding extends DomainError {
  readonly kind = 'unsupported' as const;
  readonly code = 'request/unsupported_encoding';
  constructor(given: string) {
    super(`A body with Content-Encoding "${given}" is not taken here. Send gzip, or no Content-Encoding.`);
  }
}

export class BadContentDigest extends DomainError {
  readonly kind = 'malformed' as const;
  readonly code = 'request/bad_content_digest';
  constructor() {
    super('Content-Digest must hold sha-256=:<32 bytes in base64>: as RFC 9530 writes it.');
  }
}
