import { z } from 'zod';
import { ReadingStage } from './evidence.js';
import { Id, Instant, text } from './text.js';

/** Largest picture as stored, bytes; in base64 it still fits the limit on bodies. */
export const MAX_PHOTOGRAPH_BYTES = 640 * 1024;
/** Longest side, pixels: a small file can unfold into a picture that fills a reader's memory. */
export const MAX_PHOTOGRAPH_SIDE_PX = 4_096;

export const PhotographSubject = z
  .enum([
    'filter-cartridge',
    'desiccant',
    'oil',
    'orifice-tube',
    'expansion-valve',
    'condenser',
    'evaporator',
    'compressor',
    'hose-or-joint',
    'gauge',
    'label',
    'other',
  ])
  .meta({ id: 'PhotographSubject', description: 'What is to be seen on it.' });
export type PhotographSubject = z.infer<typeof PhotographSubject>;

const photographFields = {
  subject: PhotographSubject,
  stage: ReadingStage.optional().describe('Absent means before any repair'),
  caption: text(300).optional(),
};

export const NewPhotograph = z
  .strictObject({
    ...photographFields,
    data: z
      .base64()
      .min(16)
      .max(Math.ceil(MAX_PHOTOGRAPH_BYTES / 3) * 4)
      .describe('JPEG, PNG or WebP in base64, at most 640 KiB and 4096 px a side; what it says about camera and place is taken out'),
  })
  .meta({ id: 'NewPhotograph' });
export type NewPhotograph = z.infer<typeof NewPhotograph>;

export const PhotographType = z.enum(['image/jpeg', 'image/png', 'image/webp']).meta({ id: 'PhotographType' });
export type PhotographType = z.infer<typeof PhotographType>;

/** A photograph without its picture, which is fetched by itself. */
export const Photograph = z
  .strictObject({
    id: Id,
    caseId: Id,
    ...photographFields,
    mediaType: PhotographType,
    widthPx: z.int(),
    heightPx: z.int(),
    bytes: z.int(),
    sha256: z.string().describe('Of the picture as stored, hexadecimal'),
    createdAt: Instant,
  })
  .meta({ id: 'Photograph' });
export type Photograph = z.infer<typeof Photograph>;
export const PhotographList = z.strictObject({ data: z.array(Photograph) }).meta({ id: 'PhotographList' });
/** The picture itself, in its own media type. */
export const PhotographFile = z.string().meta({ id: 'PhotographFile', description: 'The picture itself, in its own media type.' });
