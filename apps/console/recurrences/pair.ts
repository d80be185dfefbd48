import type { RecurringPattern } from '../client/generated/api.ts';
import { address } from '../shell/route.ts';
import { inSentence } from '../shell/words.ts';

type Pair = Pick<RecurringPattern, 'cause' | 'effect'>;

export const pairName = ({ cause, effect }: Pair) => `${inSentence(effect)} after ${inSentence(cause)}`;
export const patternAddress = ({ cause, effect }: Pair) => address('/recurrences/patterns', { cause, effect });
