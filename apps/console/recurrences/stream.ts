import type { WatchStream } from '../client/generated/api.ts';
import { address } from '../shell/route.ts';
import { inSentence } from '../shell/words.ts';

export const KIND_NAMES = { 'new-faults': 'new faults', returns: 'returns' } as const;
export const streamName = ({ platformName, fault, kind }: WatchStream) => `${platformName}: ${inSentence(fault)}, ${KIND_NAMES[kind]}`;
export const watchAddress = ({ platformId, fault, kind }: WatchStream) =>
  address('/recurrences/watches', { platform: platformId, fault, kind });
