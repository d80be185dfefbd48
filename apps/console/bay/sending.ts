import { useEffect, useRef } from 'react';
import { Refusal } from '../client/client.ts';

const EVERY_MS = 4_000;

export const foundNoServer = (error: unknown): boolean => error instanceof Refusal && error.status === 0;

/** Not refused for what it says: the server was away, or the person was signed out while it was. It is sent when both are back. */
export const isStillToSend = (error: unknown): boolean =>
  foundNoServer(error) || (error instanceof Refusal && error.code === 'access/nobody_signed_in');

/**
 * Sends what found no server as soon as one answers. The server is asked for every few seconds, because it may be away while the browser
 * believes to be online, and at once when the browser comes back online.
 */
export function useSendAgain(waiting: boolean, send: () => void): void {
  const latest = useRef(send);
  latest.current = send;
  useEffect(() => {
    if (!waiting) return;
    let over = false;
    const look = async () => {
      const there = await fetch('/livez', { cache: 'no-store' }).then(
        ({ ok }) => ok,
        () => false,
      );
      if (there && !over) {
        over = true;
        latest.current();
      }
    };
    const timer = setInterval(() => navigator.onLine && look(), EVERY_MS);
    window.addEventListener('online', look);
    return () => {
      over = true;
      clearInterval(timer);
      window.removeEventListener('online', look);
    };
  }, [waiting]);
}
