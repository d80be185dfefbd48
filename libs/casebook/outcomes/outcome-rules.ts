import type { NewOutcomeRules } from '#libs/contracts/index.js';

/** What an organisation has set about how returns are told apart; version 0 where it has set nothing. */
export interface StandingRules extends NewOutcomeRules {
  readonly version: number;
}

/** The same visit means the same order, not the same day; a return is one however late; common practice: a car that was seen is around for a year. */
export const COMMON_RULES: StandingRules = Object.freeze({ version: 0, sameVisitDays: 0, lookBackDays: null, presenceDays: 365 });

/** The rules in words, as they stand beside every figure. */
export function rulesInWords({ version, sameVisitDays, lookBackDays, presenceDays }: StandingRules): string[] {
  const visit =
    sameVisitDays === 0
      ? 'Every later order is a later visit, the next morning too.'
      : `Another order at the same shop within ${sameVisitDays} ${sameVisitDays === 1 ? 'day' : 'days'} is the same visit and no return.`;
  const back =
    lookBackDays === null
      ? 'A return counts however late it comes.'
      : `A repair is followed for ${lookBackDays} days: what comes later is no return of it.`;
  return [
    `${visit} ${back} ${version === 0 ? 'These are the common rules.' : `These are version ${version} of the organisation's own rules.`}`,
    `A vehicle counts as still around for ${presenceDays} days after it was last seen, never beyond today. One that was not seen for longer is lost from then on, whether it comes back later or not.`,
  ];
}
