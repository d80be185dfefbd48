import { DomainError, type ProblemIssue } from '#libs/contracts/index.js';

export class CaseNotFound extends DomainError {
  readonly kind = 'not_found' as const;
  readonly code = 'cases/not_found';
  constructor(id: string) {
    super(`There is no case ${id} that you may open.`);
  }
}

export class CaseNotOpen extends DomainError {
  readonly kind = 'conflict' as const;
  readonly code = 'cases/not_open';
  constructor(status: string) {
    super(`The case is ${status}. Only an open case can be changed this way; proof and repairs can still be added to a closed one.`);
  }
}

export class CaseVoided extends DomainError {
  readonly kind = 'conflict' as const;
  readonly code = 'cases/void';
  constructor() {
    super('The case was made void and takes no more changes. Open a new case instead.');
  }
}

export class SourceRevisionNotNewer extends DomainError {
  readonly kind = 'conflict' as const;
  readonly code = 'cases/source_revision_not_newer';
  constructor(system: string, reference: string, given: number, stored: number) {
    super(`Order ${reference} of ${system} is stored at revision ${stored}, with another body than the one sent as revision ${given}.`, [
      {
        pointer: '/source/revision',
        code: 'cases/source_revision_not_newer',
        detail: `Revision ${given} is not newer than the stored revision ${stored}, and the body differs.`,
        remedy: `If the order changed, send it as revision ${stored + 1} or higher. If it did not, send the body exactly as before.`,
      },
    ]);
  }
}

/** The order is that of a shop this credential may not open. Neither the shop nor its case is named. */
export class SourceElsewhere extends DomainError {
  readonly kind = 'conflict' as const;
  readonly code = 'cases/source_elsewhere';
  constructor(system: string, reference: string) {
    super(`Order ${reference} of ${system} belongs to a shop that this credential may not open.`, [
      {
        pointer: '/source/reference',
        code: 'cases/source_elsewhere',
        detail: 'An order has one reference in the whole organisation.',
        remedy: 'Send it with a key of its shop, or give each shop a system name of its own.',
      },
    ]);
  }
}

export class ImplausibleEvidence extends DomainError {
  readonly kind = 'invalid' as const;
  readonly code = 'cases/implausible';
  constructor(issues: readonly ProblemIssue[]) {
    super(issues.length === 1 ? 'One value cannot be right; see errors.' : `${issues.length} values cannot be right; see errors.`, issues);
  }
}

export class TooMuchEvidence extends DomainError {
  readonly kind = 'invalid' as const;
  readonly code = 'cases/too_much_evidence';
  constructor(what: string, limit: number) {
    super(`A case holds at most ${limit} ${what}. Open another case for another visit.`);
  }
}
