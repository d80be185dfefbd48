import { Socket } from 'node:net';
import type { FastifyReply, FastifyRequest } from 'fastify';

/** What is still taken, unread, of a body that was refused: longer or more would let a sender hold the connection for nothing. */
const LONGEST_MS = 5_000;
const MOST_BYTES = 32 * 2 ** 20;

/**
 * Lets a refusal reach whoever is still sending. To close with bytes unread makes the kernel answer them with a reset, and that takes the refusal away
 * before it was read (RFC 9112, section 9.6): so the answer is written, our side ended, and what still comes is thrown away within bounds until the sender ends too.
 */
export function hearOut(request: FastifyRequest, reply: FastifyReply): void {
  const { raw } = request;
  const { socket } = reply.raw;
  if (raw.complete || socket === null || socket.destroyed) return;
  // On a connection that stays, Node throws away the rest of a body, however long it is, unless somebody began to read it: then it would wait for them.
  if (raw.readableDidRead || !(Number(request.headers['content-length']) <= MOST_BYTES)) reply.header('connection', 'close');
  const { destroySoon } = Socket.prototype;
  socket.destroySoon = () => {
    if (raw.complete || socket.destroyed) return destroySoon.call(socket);
    const timer = setTimeout(() => socket.destroy(), LONGEST_MS).unref();
    socket.once('close', () => clearTimeout(timer));
    const before = socket.bytesRead;
    const bound = () => {
      if (socket.bytesRead - before > MOST_BYTES) socket.destroy();
    };
    const takeOver = () => socket.removeAllListeners('data').on('data', bound);
    // A body that nobody reads any more would be held back by its parser for ever: its bytes are taken from the connection itself, once it flows (only then Node's own listener starts it again).
    const discard = () => (socket.isPaused() ? socket.once('resume', takeOver).resume() : takeOver());
    if (raw.destroyed) discard();
    else {
      raw.on('data', bound).once('end', () => destroySoon.call(socket));
      raw.once('close', () => raw.complete || discard());
    }
    socket.end();
  };
}
