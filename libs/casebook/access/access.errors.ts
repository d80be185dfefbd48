import { DomainError, type Permission, type ProblemIssue, type Role } from '#libs/contracts/index.js';

export class Unauthenticated extends DomainError {
  readonly kind = 'unauthenticated' as const;
  readonly code = 'access/unauthenticated';
  constructor(detail = 'Send your key in the Authorization header: "Authorization: Bearer <key>".') {
    super(detail);
  }
}

export class Forbidden extends DomainError {
  readonly kind = 'forbidden' as const;
  readonly code = 'access/forbidden';
  constructor(
    readonly permission: Permission,
    role: Role,
  ) {
    super(
      `This needs the permission "${permission}", which your ${role} credential does not have. Ask an administrator for a key that has it.`,
    );
  }
}

export class KeyNotFound extends DomainError {
  readonly kind = 'not_found' as const;
  readonly code = 'access/key_not_found';
  constructor(id: string) {
    super(`There is no key ${id} here.`);
  }
}

/** Use is told for a period that has days, and not too many. */
export class UsagePeriodRefused extends DomainError {
  readonly kind = 'invalid' as const;
  readonly code = 'access/usage_period';
  constructor(since: string, until: string, mostDays: number) {
    super(`From ${since} to before ${until} is not 1 to ${mostDays} days.`, [
      {
        pointer: 'until',
        code: 'access/usage_period',
        detail: `It must lie 1 to ${mostDays} days after ${since}.`,
        remedy: 'Ask for a shorter period; several follow one another.',
      },
    ]);
  }
}

export class MemberNotFound extends DomainError {
  readonly kind = 'not_found' as const;
  readonly code = 'access/member_not_found';
  constructor(id: string) {
    super(`There is no member ${id} here.`);
  }
}

export class KeyTooWide extends DomainError {
  readonly kind = 'invalid' as const;
  readonly code = 'access/key_too_wide';
  constructor(issues: readonly ProblemIssue[]) {
    super('A key may not do more than its role or than the credential that issues it.', issues);
  }
}
