import type { Pool } from '#libs/database/index.js';

/** What every service is made from. Built once at start; nothing in it changes. */
export interface CasebookContext {
  readonly pool: Pool;
  readonly clock: () => Date;
  /** 32 bytes; seals each organisation's hash key. */
  readonly serverSecret: Buffer;
}
