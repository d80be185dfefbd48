import { type Dispatch, type SetStateAction, useContext, useEffect, useState } from 'react';
import { Typist } from '../shell/typist.ts';

/**
 * State that survives a reload and a lost connection. It stays in this tab, because it may hold what names a car; at a device that several people use each
 * has slots of their own, and finds them again when they are back.
 */
export function useKept<T>(name: string, initial: T): [T, Dispatch<SetStateAction<T>>] {
  const typist = useContext(Typist);
  const slot = typist === null ? `coolback.${name}` : `coolback.of.${typist}.${name}`;
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
