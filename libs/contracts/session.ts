import { z } from 'zod';
import { Permission, Role } from './access.js';
import { Id, Instant } from './text.js';

/** Four to eight digits, as they are typed on a tablet. */
const pin = () => z.string().regex(/^\d{4,8}$/, 'must be four to eight digits');

export const NewSession = z
  .strictObject({
    shared: z.boolean().describe('True for a device that several people use: nobody may do anything before signing in with a PIN'),
  })
  .meta({ id: 'NewSession' });
export type NewSession = z.infer<typeof NewSession>;

export const SessionPerson = z.strictObject({ id: Id, name: z.string(), role: Role }).meta({ id: 'SessionPerson' });
export type SessionPerson = z.infer<typeof SessionPerson>;

export const Session = z
  .strictObject({
    id: Id,
    shared: z.boolean(),
    organisationId: Id,
    organisationName: z.string(),
    person: SessionPerson.nullable().describe('Who has signed in; null at a shared device while nobody has, and for a key of its own'),
    role: Role,
    permissions: z.array(Permission).describe('What may be done now; empty at a shared device while nobody has signed in'),
    shopIds: z.array(Id).nullable(),
    expiresAt: Instant,
  })
  .meta({ id: 'Session' });
export type Session = z.infer<typeof Session>;

export const EndedSession = z.strictObject({ id: Id }).meta({ id: 'EndedSession' });
export const SessionPeople = z.strictObject({ data: z.array(SessionPerson) }).meta({ id: 'SessionPeople' });

export const SignIn = z.strictObject({ memberId: Id, pin: pin() }).meta({ id: 'SignIn' });
export type SignIn = z.infer<typeof SignIn>;
export const NewPin = z.strictObject({ pin: pin() }).meta({ id: 'NewPin' });
export type NewPin = z.infer<typeof NewPin>;
export const PinChange = z.strictObject({ currentPin: pin(), pin: pin() }).meta({ id: 'PinChange' });
export type PinChange = z.infer<typeof PinChange>;
