import type { Permission, Role } from '#libs/contracts/index.js';
import { Forbidden } from './access.errors.js';

/** Who asks. Always the first argument of an operation; never ambient. */
export interface Actor {
  readonly orgId: string;
  readonly credentialId: string;
  /** The person, where one signed in: at a shared device, or through the organisation's own sign-in service. */
  readonly memberId?: string;
  readonly role: Role;
  readonly permissions: readonly Permission[];
  /** Shops this credential is limited to; null means every shop. */
  readonly shopIds: readonly string[] | null;
  readonly requestId: string;
  /** GraphQL only by trusted documents. */
  readonly trustedDocumentsOnly?: boolean;
}

/** What each role may do. A key may be narrower than its role, never wider. */
export const ROLE_PERMISSIONS: Readonly<Record<Role, readonly Permission[]>> = Object.freeze({
  technician: [
    'cases:read',
    'cases:write',
    'diagnoses:run',
    'vehicles:read',
    'vehicles:write',
    'refrigerant:write',
    'outcomes:read',
    'shops:read',
    'platforms:read',
  ],
  director: [
    'cases:read',
    'diagnoses:run',
    'vehicles:read',
    'refrigerant:write',
    'outcomes:read',
    'shops:read',
    'platforms:read',
    'platforms:write',
    'members:read',
    'audit:read',
  ],
  integrator: [
    'cases:read',
    'cases:write',
    'diagnoses:run',
    'vehicles:read',
    'vehicles:write',
    'refrigerant:write',
    'outcomes:read',
    'shops:read',
    'platforms:read',
    'webhooks:read',
    'webhooks:write',
    'documents:read',
    'documents:write',
  ],
  administrator: [
    'cases:read',
    'cases:write',
    'diagnoses:run',
    'vehicles:read',
    'vehicles:write',
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
    'vehicles:delete',
    'organisation:export',
  ],
});

/** @throws Forbidden naming the missing permission. */
export function requirePermission(actor: Actor, permission: Permission): void {
  if (!actor.permissions.includes(permission)) throw new Forbidden(permission, actor.role);
}

/** Whether this credential may open what belongs to the shop. */
export function mayOpenShop(actor: Actor, shopId: string): boolean {
  return actor.shopIds === null || actor.shopIds.includes(shopId);
}
