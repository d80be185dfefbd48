import { z } from 'zod';
import { Day, finite, Id, Instant, text } from './text.js';

export const Role = z.enum(['director', 'technician', 'integrator', 'administrator']).meta({ id: 'Role' });
export type Role = z.infer<typeof Role>;

export const PERMISSIONS = [
  'cases:read',
  'cases:write',
  'diagnoses:run',
  'vehicles:read',
  'vehicles:write',
  'vehicles:delete',
  'refrigerant:write',
  'outcomes:read',
  'shops:read',
  'shops:write',
  'platforms:read',
  'platforms:write',
  'members:read',
  'members:write',
  'keys:read',
  'keys:write',
  'audit:read',
  'webhooks:read',
  'webhooks:write',
  'documents:read',
  'documents:write',
  'organisation:export',
] as const;
export const Permission = z.enum(PERMISSIONS).meta({ id: 'Permission' });
export type Permission = z.infer<typeof Permission>;

const subject = () =>
  text(255).nullable().optional().describe('What the sign-in service of the organisation calls this person: `sub` of their tokens');

export const NewMember = z
  .strictObject({
    name: text(120),
    role: Role,
    shopIds: z.array(Id).max(500).nullable().describe('null: every shop'),
    subject: subject(),
  })
  .meta({ id: 'NewMember' });
export type NewMember = z.infer<typeof NewMember>;
export const MemberPatch = z
  .strictObject({ name: text(120), role: Role, shopIds: z.array(Id).max(500).nullable(), active: z.boolean(), subject: subject() })
  .partial()
  .meta({ id: 'MemberPatch' });
export type MemberPatch = z.infer<typeof MemberPatch>;
export const Member = z
  .strictObject({
    id: Id,
    version: z.int(),
    name: z.string(),
    role: Role,
    shopIds: z.array(Id).nullable(),
    active: z.boolean(),
    subject: z.string().nullable(),
    hasPin: z.boolean().describe('Whether this person can sign in at a shared device'),
    createdAt: Instant,
  })
  .meta({ id: 'Member' });
export type Member = z.infer<typeof Member>;

export const NewSignInService = z
  .strictObject({ issuer: text(500).describe('`iss` of its tokens; an https address that describes itself by OpenID Connect Discovery') })
  .meta({ id: 'NewSignInService' });
export type NewSignInService = z.infer<typeof NewSignInService>;
export const SignInService = z
  .strictObject({
    issuer: z.string().nullable().describe('null while none is trusted'),
    audience: z.string().describe('`aud` that its access tokens must carry'),
    createdAt: Instant.nullable(),
  })
  .meta({ id: 'SignInService' });
export type SignInService = z.infer<typeof SignInService>;

export const NewKey = z
  .strictObject({
    name: text(120),
    role: Role,
    permissions: z.array(Permission).max(PERMISSIONS.length).optional().describe("Narrower than the role's when given"),
    shopIds: z.array(Id).max(500).nullable().describe('null: every shop'),
    expiresAt: Instant.nullable(),
    trustedDocumentsOnly: z.boolean().optional().describe('GraphQL only by trusted documents; false when left out'),
  })
  .meta({ id: 'NewKey' });
export type NewKey = z.infer<typeof NewKey>;
export const KeyRotation = z
  .strictObject({ overlapHours: finite(0, 720).describe('How long the old key keeps working, h') })
  .meta({ id: 'KeyRotation' });
export type KeyRotation = z.infer<typeof KeyRotation>;
export const Key = z
  .strictObject({
    id: Id,
    version: z.int(),
    name: z.string(),
    hint: z.string().describe('Last four characters'),
    role: Role,
    permissions: z.array(Permission),
    shopIds: z.array(Id).nullable(),
    createdAt: Instant,
    expiresAt: Instant.nullable(),
    revokedAt: Instant.nullable(),
    lastUsedAt: Instant.nullable(),
    trustedDocumentsOnly: z.boolean(),
  })
  .meta({ id: 'Key' });
export type Key = z.infer<typeof Key>;
export const IssuedKey = z
  .strictObject({ key: Key, secret: z.string().describe('The key itself, shown this once') })
  .meta({ id: 'IssuedKey' });
export type IssuedKey = z.infer<typeof IssuedKey>;

/** The longest period that use is told for, days. */
export const MAX_USAGE_DAYS = 92;
export const UsageQuestion = z
  .strictObject({
    since: Day.optional().describe('From this day on (UTC); 30 days ago when left out'),
    until: Day.optional().describe(`Before this day; at most ${MAX_USAGE_DAYS} days after since`),
    keyId: Id.optional(),
  })
  .meta({ id: 'UsageQuestion' });
export type UsageQuestion = z.infer<typeof UsageQuestion>;
const usageFields = {
  requests: z.int().describe('Requests over REST and GraphQL that this key was known by, those of its sessions included'),
  refused: z.int().describe('Of these, answered with a status of 400 and more'),
  rows: z.int().describe('Rows received in files that were sent with this key'),
};
export const UsageDay = z.strictObject({ day: Day, ...usageFields }).meta({ id: 'UsageDay' });
export type UsageDay = z.infer<typeof UsageDay>;
export const UsageOfKey = z
  .strictObject({
    keyId: Id,
    name: z.string(),
    hint: z.string().describe('Last four characters'),
    ...usageFields,
    days: z.array(UsageDay).describe('Days on which there was any, oldest first'),
  })
  .meta({ id: 'UsageOfKey' });
export type UsageOfKey = z.infer<typeof UsageOfKey>;
export const KeyUsage = z
  .strictObject({
    since: Day,
    until: Day,
    keys: z.array(UsageOfKey).describe('Keys that were used, the busiest first; at most 100'),
    left: z.int().describe('Used keys beyond those'),
    isOwnOnly: z.boolean().describe('Whether only your own key is told of: those of others take the permission keys:read'),
    cautions: z.array(z.string()),
  })
  .meta({ id: 'KeyUsage', description: 'How much keys asked for, by day in UTC.' });
export type KeyUsage = z.infer<typeof KeyUsage>;

export const Me = z
  .strictObject({
    organisationId: Id,
    organisationName: z.string(),
    role: Role,
    permissions: z.array(Permission),
    shopIds: z.array(Id).nullable(),
    credentialId: Id,
    memberId: Id.nullable().describe('The person who signed in; null for a key'),
  })
  .meta({ id: 'Me' });
export type Me = z.infer<typeof Me>;

export const AuditEvent = z
  .strictObject({
    id: Id,
    at: Instant,
    credentialId: Id.nullable(),
    memberId: Id.nullable().describe('The person, where one had signed in'),
    action: z.string(),
    subjectType: z.string(),
    subjectId: Id,
    requestId: z.string().nullable(),
    change: z.string().describe('What changed, as JSON text without personal data'),
  })
  .meta({ id: 'AuditEvent' });
export type AuditEvent = z.infer<typeof AuditEvent>;
