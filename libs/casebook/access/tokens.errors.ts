import { DomainError } from '#libs/contracts/index.js';

export class IssuerUnreachable extends DomainError {
  readonly kind = 'unavailable' as const;
  readonly code = 'access/issuer_unreachable';
  override readonly retryAfterSeconds = 30;
  constructor(reason: string) {
    super(`The sign-in service of your organisation cannot be asked for its keys: ${reason}`);
  }
}

export class IssuerRefused extends DomainError {
  readonly kind = 'invalid' as const;
  readonly code = 'access/issuer_refused';
  constructor(detail: string) {
    super('This cannot be a sign-in service.', [
      {
        pointer: '/issuer',
        code: 'access/issuer_refused',
        detail,
        remedy: 'Give the issuer exactly as its tokens do, e.g. https://login.example.com',
      },
    ]);
  }
}

export class SubjectTaken extends DomainError {
  readonly kind = 'conflict' as const;
  readonly code = 'access/subject_taken';
  constructor() {
    super('Another person of your organisation has this subject already: a token must name one person.');
  }
}
