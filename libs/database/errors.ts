export type UnavailableReason = 'connection-lost' | 'too-many-connections' | 'disk-full' | 'timeout' | 'shutting-down' | 'read-only';

/** The database cannot serve now; the same request may succeed later. What exactly it said stays in `cause`. */
export class DatabaseUnavailable extends Error {
  override readonly name = 'DatabaseUnavailable';
  constructor(
    readonly reason: UnavailableReason,
    options?: { cause?: unknown },
  ) {
    super(`database unavailable: ${reason}`, options);
  }
}

// SQLSTATE codes: PostgreSQL manual, appendix A.
const BY_SQLSTATE: Readonly<Record<string, UnavailableReason>> = {
  '25006': 'read-only',
  '25P03': 'timeout',
  '25P04': 'timeout',
  '53100': 'disk-full',
  '53300': 'too-many-connections',
  '53400': 'too-many-connections',
  '55P03': 'timeout',
  '57014': 'timeout',
  '57P01': 'shutting-down',
  '57P02': 'connection-lost',
  '57P03': 'shutting-down',
  '57P05': 'connection-lost',
};
// Error codes of the operating system as node names them.
const BY_SYSTEM: Readonly<Record<string, UnavailableReason>> = {
  EAI_AGAIN: 'connection-lost',
  ECONNREFUSED: 'connection-lost',
  ECONNRESET: 'connection-lost',
  EHOSTUNREACH: 'connection-lost',
  ENETUNREACH: 'connection-lost',
  ENOENT: 'connection-lost',
  ENOTFOUND: 'connection-lost',
  EPIPE: 'connection-lost',
  ETIMEDOUT: 'connection-lost',
};
// The driver has no codes of its own for these; its texts are fixed strings in pg 8.
const BY_DRIVER_TEXT: readonly (readonly [string, UnavailableReason])[] = [
  ['timeout exceeded when trying to connect', 'too-many-connections'],
  // None was lost: a new connection was not made in time, or the process was too busy to see that it was.
  ['Connection terminated due to connection timeout', 'timeout'],
  ['Connection terminated', 'connection-lost'],
  ['Client has encountered a connection error', 'connection-lost'],
  ['Client was closed and is not queryable', 'connection-lost'],
  ['Query read timeout', 'timeout'],
  ['Cannot use a pool after calling end on the pool', 'shutting-down'],
];

const field = (error: unknown, name: string): string | null => {
  if (typeof error !== 'object' || error === null) return null;
  const value = (error as Record<string, unknown>)[name];
  return typeof value === 'string' ? value : null;
};

/** Whether an error means "the database cannot serve now", and why; null for anything that is the caller's or our own fault. */
export function unavailability(error: unknown): DatabaseUnavailable | null {
  if (field(error, 'name') === 'DatabaseUnavailable') return error as DatabaseUnavailable;
  const code = field(error, 'code');
  const isServerError = field(error, 'severity') !== null;
  let reason: UnavailableReason | undefined;
  if (code !== null) {
    reason = BY_SQLSTATE[code];
    if (reason === undefined && code.startsWith('08')) reason = 'connection-lost';
    // ENOENT and the like mean the connection only where the system call that failed was the socket's.
    if (reason === undefined && !isServerError && (code !== 'ENOENT' || field(error, 'syscall') === 'connect')) reason = BY_SYSTEM[code];
    if (reason === undefined && code === '58030' && /no space left/i.test(field(error, 'message') ?? '')) reason = 'disk-full';
  } else {
    const text = field(error, 'message') ?? '';
    reason = BY_DRIVER_TEXT.find(([start]) => text.startsWith(start))?.[1];
  }
  return reason === undefined ? null : new DatabaseUnavailable(reason, { cause: error });
}

/** Name of the constraint a write broke (class 23 of SQLSTATE), else null. */
export function constraintOf(error: unknown): string | null {
  return field(error, 'code')?.startsWith('23') ? field(error, 'constraint') : null;
}
