import { useSyncExternalStore } from 'react';

/**
 * How this tab gets in: with a key of its own, kept in the tab's session storage and gone when the tab closes; or, on a device that several
 * people use, with the session of a cookie that no script can read. Of the latter only the fact is kept here.
 */
const KEY_SLOT = 'coolback.key';
const SHARED_SLOT = 'coolback.shared-device';
const listeners = new Set<() => void>();

export type Access = 'key' | 'shared-device';

export function currentKey(): string | null {
  return sessionStorage.getItem(KEY_SLOT);
}

function currentAccess(): Access | null {
  if (currentKey() !== null) return 'key';
  return localStorage.getItem(SHARED_SLOT) === null ? null : 'shared-device';
}

export function useKey(): string | null {
  return useSyncExternalStore(listenToKey, currentKey);
}

export function useAccess(): Access | null {
  return useSyncExternalStore(listenToKey, currentAccess);
}

/** What was typed in this tab may name a car: it goes with the key, or with the sharing of the device. */
function forgetTyped(): void {
  for (const slot of Object.keys(sessionStorage)) if (slot.startsWith('coolback.') && slot !== KEY_SLOT) sessionStorage.removeItem(slot);
}

/** Takes a key into use, or with null forgets it. */
export function changeKey(key: string | null): void {
  if (key === null) {
    sessionStorage.removeItem(KEY_SLOT);
    forgetTyped();
  } else sessionStorage.setItem(KEY_SLOT, key);
  tell();
}

/** From now on this device works by the session in its cookie, or no longer. */
export function shareDevice(shared: boolean): void {
  sessionStorage.removeItem(KEY_SLOT);
  if (shared) localStorage.setItem(SHARED_SLOT, 'yes');
  else {
    localStorage.removeItem(SHARED_SLOT);
    forgetTyped();
  }
  tell();
}

function tell(): void {
  for (const listener of listeners) listener();
}

export function listenToKey(listener: () => void): () => void {
  listeners.add(listener);
  return () => listeners.delete(listener);
}
