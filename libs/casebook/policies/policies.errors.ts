import { DomainError, type Policy } from '#libs/contracts/index.js';

export class PolicyNotFound extends DomainError {
  readonly kind = 'not_found' as const;
  readonly code = 'policies/not_found';
  constructor(id: string) {
    super(`There is no policy ${id} here.`);
  }
}

/** The same repair ruled twice, or two repairs required, for one fault of one platform at one time. */
export class PolicyContradicts extends DomainError {
  readonly kind = 'conflict' as const;
  readonly code = 'policies/contradicts';
  constructor(other: Policy) {
    super(
      `Policy ${other.id} ${other.rule === 'forbid' ? 'forbids' : 'requires'} ${other.action} for ${other.fault} on this platform since ${other.since}. End it first.`,
    );
  }
}

export class PolicyDayOutOfReach extends DomainError {
  readonly kind = 'invalid' as const;
  readonly code = 'policies/day_out_of_reach';
  constructor(day: string, latest: string) {
    super(`${day} is later than ${latest}.`, [
      {
        pointer: '/since',
        code: 'policies/day_out_of_reach',
        detail: `${day} is later than ${latest}.`,
        remedy: 'Give a day within a year.',
      },
    ]);
  }
}
