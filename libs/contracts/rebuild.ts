import { z } from 'zod';

export const RebuildOrder = z
  .strictObject({
    check: z.boolean().optional().describe('Only compare and say what differs; nothing is written'),
  })
  .meta({ id: 'RebuildOrder', description: 'Derive again whatever is derived: episodes, boards, and after them patterns and watches.' });
export type RebuildOrder = z.infer<typeof RebuildOrder>;
