import type { FastifyInstance } from 'fastify';

/** How long a body may take to arrive whole, and how long a file may pause. */
export const BODY_MS = 30_000;
export const FILE_PAUSE_MS = 30_000;
/** What Node itself allows for one request: only files come near it. */
export const REQUEST_MS = 6 * 3_600_000;

/**
 * Ends requests whose body does not come. Ordinary bodies must arrive whole within a time; a file may take as long as it keeps coming. Node knows
 * one limit for all requests, so the shorter one is kept here.
 */
export function limitBodyTime(fastify: FastifyInstance, isFile: (url: string) => boolean, bodyMs = BODY_MS, pauseMs = FILE_PAUSE_MS): void {
  fastify.addHook('onRequest', async (request) => {
    const { raw } = request;
    if (raw.complete || (raw.headers['content-length'] === undefined && raw.headers['transfer-encoding'] === undefined)) return;
    const file = request.method === 'POST' && isFile(request.url);
    const timer = setTimeout(() => raw.socket.destroy(), file ? pauseMs : bodyMs);
    timer.unref();
    const end = () => clearTimeout(timer);
    raw.once('end', end).once('close', end);
    if (file) {
      const read = raw.socket.bytesRead;
      let before = read;
      const watch = setInterval(
        () => {
          const now = raw.socket.bytesRead;
          // A reader that waits for the database holds the sender back: that is our pause, not the sender's.
          if (now !== before || raw.isPaused() || raw.readableLength > 0) timer.refresh();
          before = now;
        },
        Math.max(50, pauseMs / 10),
      );
      watch.unref();
      raw.once('close', () => clearInterval(watch)).once('end', () => clearInterval(watch));
    }
  });
}
