export { Unauthenticated } from './access/access.errors.js';
export type { Actor } from './access/actor.js';
export { ROLE_PERMISSIONS } from './access/actor.js';
export { Casebook, openCasebook } from './casebook.js';
export type { OpenedCase } from './cases/cases.service.js';
export { InvalidInput, parseInput } from './invalid.errors.js';
export { MalformedJson, parseIJson } from './requests/i-json.js';
export { once, type StoredAnswer } from './requests/idempotency.js';
