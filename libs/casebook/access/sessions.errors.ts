import { DomainError } from '#libs/contracts/index.js';

export class NoSession extends DomainError {
  readonly kind = 'unauthenticated' as const;
  readonly code = 'access/no_session';
  constructor(detail = 'There is no session here, or it has ended. Open one with a key.') {
    super(detail);
  }
}

export class NobodySignedIn extends DomainError {
  readonly kind = 'unauthenticated' as const;
  readonly code = 'access/nobody_signed_in';
  constructor() {
    super('Nobody has signed in at this device, or nothing was done for half an hour. Pick your name and type your PIN.');
  }
}

export class CrossSiteRequest extends DomainError {
  readonly kind = 'forbidden' as const;
  readonly code = 'access/cross_site';
  constructor() {
    super('A session is honoured only for pages of this server itself. Programs send a key in the Authorization header instead.');
  }
}

export class PinRefused extends DomainError {
  readonly kind = 'invalid' as const;
  readonly code = 'access/pin_refused';
  constructor(pointer: string, triesLeft: number) {
    const left = triesLeft === 1 ? 'One more try' : `${triesLeft} more tries`;
    super(`The name and the PIN do not go together. ${left} before a pause of 15 minutes.`, [
      { pointer, code: 'access/pin_refused', detail: 'This is not the PIN of this person.', remedy: 'An administrator can set a new one.' },
    ]);
  }
}

export class PinPaused extends DomainError {
  readonly kind = 'limited' as const;
  readonly code = 'access/pin_paused';
  constructor(override readonly retryAfterSeconds: number) {
    super(`Too many wrong PINs. Try again in ${Math.ceil(retryAfterSeconds / 60)} min, or ask an administrator for a new PIN.`);
  }
}

export class PinWeak extends DomainError {
  readonly kind = 'invalid' as const;
  readonly code = 'access/pin_weak';
  constructor() {
    super('This PIN is among the first that anybody tries.', [
      {
        pointer: '/pin',
        code: 'access/pin_weak',
        detail: 'One digit throughout, or digits that follow each other.',
        remedy: 'Choose digits without a pattern.',
      },
    ]);
  }
}

export class SharedNeedsKey extends DomainError {
  readonly kind = 'invalid' as const;
  readonly code = 'access/shared_needs_key';
  constructor() {
    super('A shared device stands on a key, not on the token of one person.', [
      {
        pointer: '/shared',
        code: 'access/shared_needs_key',
        detail: 'The token names a person; the device would end with them.',
        remedy: 'Issue a key with the role and the shops of the device, and open its session with that.',
      },
    ]);
  }
}
