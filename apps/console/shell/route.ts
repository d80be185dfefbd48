import { useMemo, useSyncExternalStore } from 'react';

/** Where in the console: the part after # of the address, so that every view can be shared and the server needs no fallback. */
export interface Route {
  readonly path: string;
  readonly search: URLSearchParams;
}

const subscribe = (listener: () => void) => {
  window.addEventListener('hashchange', listener);
  return () => window.removeEventListener('hashchange', listener);
};

export function useRoute(): Route {
  const hash = useSyncExternalStore(subscribe, () => window.location.hash);
  return useMemo(() => {
    const [path = '', query = ''] = hash.replace(/^#/, '').split('?');
    return { path: path === '' ? '/' : path, search: new URLSearchParams(query) };
  }, [hash]);
}

/** The address of a view; empty parts are left out. */
export function address(path: string, parts: Readonly<Record<string, string | number | null | undefined>> = {}): string {
  const search = new URLSearchParams();
  for (const [name, value] of Object.entries(parts))
    if (value !== null && value !== undefined && value !== '') search.set(name, String(value));
  const query = search.toString();
  return `#${path}${query === '' ? '' : `?${query}`}`;
}

export function goTo(hash: string): void {
  window.location.hash = hash;
}
