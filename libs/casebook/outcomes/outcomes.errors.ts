import { DomainError } from '#libs/contracts/index.js';

/** A question about a day for which there is no answer: clocks run from two years back to two years ahead. */
export class DayOutOfReach extends DomainError {
  readonly kind = 'invalid' as const;
  readonly code = 'outcomes/day_out_of_reach';
  constructor(day: string, earliest: string, latest: string, pointer = 'day') {
    super(`${day} is not between ${earliest} and ${latest}.`, [
      {
        pointer,
        code: 'outcomes/day_out_of_reach',
        detail: `${day} is not between ${earliest} and ${latest}.`,
        remedy: 'Ask about a day within a year of today, or leave the day out.',
      },
    ]);
  }
}

/** A period that ends before it begins. */
export class PeriodUpsideDown extends DomainError {
  readonly kind = 'invalid' as const;
  readonly code = 'outcomes/period_upside_down';
  constructor(since: string, until: string) {
    super(`The period ends on ${until}, before or when it begins on ${since}.`, [
      {
        pointer: 'until',
        code: 'outcomes/period_upside_down',
        detail: `${until} is not after ${since}.`,
        remedy: 'Give an "until" after "since"; "since" is a year ago when left out.',
      },
    ]);
  }
}
