import { type Dispatch, type SetStateAction, useEffect, useState } from 'react';

/** State that survives a reload and a lost connection. It stays in this tab, because it may hold what names a car. */
export function useKept<T>(slot: string, initial: T): [T, Dispatch<SetStateAction<T>>] {
  const [value, set] = useState<T>(() => {
    try {
      const kept = sessionStorage.getItem(slot);
      return kept === null ? initial : (JSON.parse(kept) as T);
    } catch {
      return initial;
    }
  });
  useEffect(() => {
    try {
      sessionStorage.setItem(slot, JSON.stringify(value));
    } catch {
      // A full store: the page goes on working from memory.
    }
  }, [slot, value]);
  return [value, set];
}
