import { z } from 'zod';
import { Instant } from './text.js';

/** First line of an export. The rows follow, one a line: `{"table": …, "row": …}`; the last line is `{"end": true, "rows": {…}}`. */
export const ExportHead = z
  .strictObject({
    format: z.literal('coolback-export'),
    version: z.int(),
    organisation: z.string(),
    exportedAt: Instant,
    tables: z.array(z.string()).describe('In the order in which their rows follow'),
    hashKey: z.string().nullable().describe('The key of the hashes, under the passphrase that was given; null without one'),
  })
  .meta({ id: 'ExportHead' });
export type ExportHead = z.infer<typeof ExportHead>;
