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
