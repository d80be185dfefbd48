import { randomUUID } from 'node:crypto';
import { STATUS_CODES } from 'node:http';
import type { Socket } from 'node:net';
import { toProblem } from './problem.js';
import { HeadersTooLarge, RequestTimedOut, UnreadableRequest } from './transport.errors.js';

/** Answers what was no request to the parser: nothing of ours has seen it, so the answer is written to the connection as it is. */
export function answerUnreadable(error: NodeJS.ErrnoException, socket: Socket): void {
  if (error.code === 'ECONNRESET' || socket.destroyed || !socket.writable) return;
  const known =
    error.code === 'HPE_HEADER_OVERFLOW'
      ? new HeadersTooLarge()
      : error.code === 'ERR_HTTP_REQUEST_TIMEOUT'
        ? new RequestTimedOut()
        : new UnreadableRequest();
  const problem = { ...toProblem(known, { url: '', id: randomUUID() }), instance: null };
  const body = JSON.stringify(problem);
  socket.end(
    `HTTP/1.1 ${problem.status} ${STATUS_CODES[problem.status]}\r\ncontent-type: application/problem+json; charset=utf-8\r\ncontent-length: ${Buffer.byteLength(body)}\r\nconnection: close\r\n\r\n${body}`,
  );
}
