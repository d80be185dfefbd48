import { z } from 'zod';
import { Id, Instant, text } from './text.js';

export const NewTrustedDocument = z
  .strictObject({ query: text(60_000).describe('The document, with one operation, exactly as it will be asked for') })
  .meta({ id: 'NewTrustedDocument' });
export type NewTrustedDocument = z.infer<typeof NewTrustedDocument>;

export const TrustedDocument = z
  .strictObject({
    id: Id,
    documentId: z.string().describe('sha256: and the hash of the text in 64 hexadecimal digits; sent instead of the text'),
    query: z.string(),
    createdAt: Instant,
  })
  .meta({ id: 'TrustedDocument' });
export type TrustedDocument = z.infer<typeof TrustedDocument>;
