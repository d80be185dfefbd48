import { DomainError } from '#libs/contracts/index.js';

export class StaleVersion extends DomainError {
  readonly kind = 'precondition_failed' as const;
  readonly code = 'versions/stale';
  constructor(given: number, current: number) {
    super(
      `You amended version ${given}, but it is at version ${current} now. Read it again, look at what changed, and send your change with If-Match: "${current}".`,
    );
  }
}

export class VersionRequired extends DomainError {
  readonly kind = 'precondition_required' as const;
  readonly code = 'versions/required';
  constructor() {
    super('Say which version you are changing: send If-Match with the ETag you read (GraphQL: expectedVersion).');
  }
}

/** Refuses a change made to anything but the current version. */
export function requireVersion(expected: number | undefined, current: number): void {
  if (expected === undefined) throw new VersionRequired();
  if (expected !== current) throw new StaleVersion(expected, current);
}
