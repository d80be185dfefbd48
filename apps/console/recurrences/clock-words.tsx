import type { GroupedReturns } from '../client/generated/api.ts';
import { plural, said } from '../shell/words.ts';

/** Which clock these repairs run by, and what the odometer leaves out. */
export function ClockWords({ answer }: { readonly answer: Pick<GroupedReturns, 'clockFit' | 'unread'> }) {
  return (
    <p className="quiet">
      {said(answer.clockFit.message)}
      {answer.unread === 0 ? '' : ` ${plural(answer.unread, 'repair')} left out: their odometer readings tell nothing.`}
    </p>
  );
}
