import { z } from 'zod';

/** Paging of lists: keyset only. */
export const PageInput = z.strictObject({
  first: z.coerce.number().int().min(1).max(100).optional().describe('How many, 1 to 100; 20 when left out'),
  after: z.string().max(400).optional().describe('Cursor of the page before'),
});
export type PageInput = z.infer<typeof PageInput>;

/** A page of a list. `next` is the cursor to ask for what follows, null at the end. */
export function pageOf<T extends z.ZodType>(item: T, id: string) {
  return z.strictObject({ data: z.array(item), next: z.string().nullable() }).meta({ id });
}
export type Page<T> = { readonly data: T[]; readonly next: string | null };
