import { z } from 'zod';
import { finite } from './text.js';

/**
 * A value with its UCUM unit code, exactly as it was typed, e.g. `{ "value": 24, "unit": "[psi]" }`.
 * Whether the code is known and fits the quantity is judged where it is used, so that the answer can suggest the right one.
 */
export const Quantity = z
  .strictObject({
    value: finite(-1e9, 1e9),
    unit: z
      .string()
      .min(1)
      .max(24)
      .describe("UCUM code: [psi] bar kPa [in_i'Hg] mm[Hg] Cel [degF] K g kg [oz_av] [lb_av] % /min min h km [mi_i] m [ft_i] V mA"),
  })
  .meta({ id: 'Quantity', description: 'A value with its UCUM unit code, as typed.' });
export type Quantity = z.infer<typeof Quantity>;

/** Money in the shop's own currency, to the cent. */
export const Money = z
  .strictObject({ amount: finite(0, 1e7), currency: z.string().regex(/^[A-Z]{3}$/, 'must be an ISO 4217 code, e.g. EUR') })
  .meta({ id: 'Money' });
export type Money = z.infer<typeof Money>;
