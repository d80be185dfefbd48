import { useSyncExternalStore } from 'react';

/** The key this tab works with. It stays in the tab's session storage and is gone when the tab closes. */
const SLOT = 'coolback.key';
const listeners = new Set<() => void>();

export function currentKey(): string | null {
  return sessionStorage.getItem(SLOT);
}

export function useKey(): string | null {
  return useSyncExternalStore(listenToKey, currentKey);
}

/** Takes a key into use, or with null forgets it. */
export function changeKey(key: string | null): void {
  if (key === null) sessionStorage.removeItem(SLOT);
  else sessionStorage.setItem(SLOT, key);
  for (const listener of listeners) listener();
}

export function listenToKey(listener: () => void): () => void {
  listeners.add(listener);
  return () => listeners.delete(listener);
}
