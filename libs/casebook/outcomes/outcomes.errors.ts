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

/** Groups of a comparison that are filled with different refrigerants. */
export class MixedRefrigerants extends DomainError {
  readonly kind = 'invalid' as const;
  readonly code = 'outcomes/mixed_refrigerants';
  constructor(a: readonly string[], b: readonly string[]) {
    const words = `One group is filled with ${a.join(' and ')}, the other with ${b.join(' and ')}.`;
    super(`${words} Their circuits differ in more than the repair.`, [
      {
        pointer: '/b',
        code: 'outcomes/mixed_refrigerants',
        detail: words,
        remedy: 'Compare platforms or families with one refrigerant, or ask for the return rates of each by itself.',
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

/** Parts are told apart by their number, their brand or their lot; a part of a repair has one of each. */
export class OneOfParts extends DomainError {
  readonly kind = 'invalid' as const;
  readonly code = 'outcomes/one_of_parts';
  constructor() {
    const detail = 'More than one of partNumber, partBrand and partLot was asked for.';
    super(detail, [{ pointer: 'by', code: 'outcomes/one_of_parts', detail, remedy: 'Ask for one of them, and filter by the others.' }]);
  }
}
