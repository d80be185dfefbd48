export { constraintOf, DatabaseUnavailable, type UnavailableReason, unavailability } from './errors.js';
export { createPool, type Pool, type PoolOptions } from './pool.js';
export { inTenant, type Statement, type Tx } from './tenancy.js';
