import { expect, it } from '@jest/globals';
import { constraintOf, DatabaseUnavailable, unavailability } from './errors.js';

const server = (code: string, message = 'as the server says') => Object.assign(new Error(message), { severity: 'ERROR', code });
const system = (code: string, syscall: string) => Object.assign(new Error(code), { code, syscall });

// Meaning of the codes: PostgreSQL manual, appendix A.
it.each([
  ['a full disk', server('53100'), 'disk-full'],
  ['a full disk under a file being extended', server('58030', 'could not extend file: No space left on device'), 'disk-full'],
  ['no connection left', server('53300'), 'too-many-connections'],
  ['a statement that took too long', server('57014'), 'timeout'],
  ['a lock that was not free in time', server('55P03'), 'timeout'],
  ['a server that stops', server('57P01'), 'shutting-down'],
  ['a server that starts', server('57P03'), 'shutting-down'],
  ['a server that crashed', server('57P02'), 'connection-lost'],
  ['a broken connection', server('08006'), 'connection-lost'],
  ['a standby', server('25006'), 'read-only'],
  ['nobody listening', system('ECONNREFUSED', 'connect'), 'connection-lost'],
  ['a socket that is not there', system('ENOENT', 'connect'), 'connection-lost'],
  ['the driver without a connection', new Error('timeout exceeded when trying to connect'), 'too-many-connections'],
  ['the driver whose new connection was not made in time', new Error('Connection terminated due to connection timeout'), 'timeout'],
  ['the driver cut off', new Error('Connection terminated unexpectedly'), 'connection-lost'],
])('%s is unavailability', (_name, error, reason) => {
  const unavailable = unavailability(error);
  expect(unavailable).toMatchObject({ name: 'DatabaseUnavailable', reason, cause: error });
  expect(unavailability(unavailable)).toBe(unavailable);
});

it.each([
  ['a broken constraint', server('23505')],
  ['a mistake in a statement', server('42601')],
  ['a refusal by row-level security', server('42501')],
  ['a deadlock, which is for the caller to repeat', server('40P01')],
  ['another failure of the disk', server('58030', 'could not read block')],
  ['a missing file of our own', system('ENOENT', 'open')],
  ['an error of the program', new TypeError('x is not a function')],
  ['nothing', null],
  ['a text', 'ECONNREFUSED'],
])('%s is not', (_name, error) => {
  expect(unavailability(error)).toBeNull();
});

it('names the constraint a write broke, and only that', () => {
  expect(constraintOf(Object.assign(server('23505'), { constraint: 'shop_org_id_code_key' }))).toBe('shop_org_id_code_key');
  expect(constraintOf(Object.assign(server('23502'), { column: 'name' }))).toBeNull();
  expect(constraintOf(Object.assign(server('42501'), { constraint: 'x' }))).toBeNull();
  expect(constraintOf(undefined)).toBeNull();
});

it('keeps what the database said out of its own text', () => {
  expect(new DatabaseUnavailable('timeout', { cause: server('57014', 'secret detail') }).message).toBe('database unavailable: timeout');
});
