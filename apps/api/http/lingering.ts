import { Socket } from 'node:net';
import type { FastifyReply, FastifyRequest } from 'fastify';

/** What is still taken, unread, of a body that was refused: longer or more would let a sender hold the connection for nothing. */
const LONGEST_MS = 5_000;
const MOST_BYTES = 32 * 2 ** 20;

/**
 * Lets a refusal reach whoever is still sending. To close with bytes unread makes the kernel answer them with a reset, and that takes the refusal away
 * before it was read (RFC 9112, section 9.6): so the answer is written, our side ended, and what still comes is thrown away within bounds.
 */
export function hearOut(request: FastifyRequest, reply: FastifyReply): void {
  const { raw } = request;
  const { socket } = raw;
  if (raw.complete || socket.destroyed) return;
  // On a connection that stays, Node throws away the rest of a body however long it is.
  if (!(Number(request.headers['content-length']) <= MOST_BYTES)) reply.header('connection', 'close');
  const { destroySoon } = Socket.prototype;
  socket.destroySoon = () => {
    if (raw.complete || socket.destroyed) return destroySoon.call(socket);
    const before = socket.bytesRead;
    const timer = setTimeout(() => socket.destroy(), LONGEST_MS).unref();
    socket.once('close', () => clearTimeout(timer));
    raw.on('data', () => {
      if (socket.bytesRead - before > MOST_BYTES) socket.destroy();
    });
    raw.once('end', () => destroySoon.call(socket));
    socket.end();
  };
}
