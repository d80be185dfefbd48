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
