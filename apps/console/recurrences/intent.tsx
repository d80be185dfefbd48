import type { RepairIntent } from '../client/generated/api.ts';

/** Ends of a mark of each intent, around 0,0: shapes tell them apart without colour. */
export function IntentShape({ intent }: { readonly intent: RepairIntent }) {
  if (intent === 'temporary') return <path d="M0-6 6 0 0 6-6 0Z" fill="currentColor" />;
  if (intent === 'permanent') return <circle r="5" fill="currentColor" />;
  return <rect x="-4.5" y="-4.5" width="9" height="9" fill="currentColor" />;
}

export const INTENT_NAMES: Readonly<Record<RepairIntent, string>> = {
  temporary: 'stop-gap',
  permanent: 'full repair',
  unknown: 'intent unknown',
};

/** A kind of repair by its shape and name; `short` where the name stands beside already: the shape alone, the name for readers' tools. */
export function Intent({ intent, short = false }: { readonly intent: RepairIntent; readonly short?: boolean }) {
  return (
    <span className={`intent ${intent}`}>
      <svg width="14" height="14" viewBox="-7 -7 14 14" aria-hidden="true">
        <IntentShape intent={intent} />
      </svg>
      <span className={short ? 'unseen' : undefined}>{INTENT_NAMES[intent].charAt(0).toUpperCase() + INTENT_NAMES[intent].slice(1)}</span>
    </span>
  );
}
