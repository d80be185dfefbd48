/** Outside this repository: `npx openapi-typescript http://127.0.0.1:4280/openapi.json --root-types --root-types-no-schema-prefix -o api.ts`. */
export type * from '../../apps/console/client/generated/api.js';
