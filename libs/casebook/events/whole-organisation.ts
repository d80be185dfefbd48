import { type Actor, requirePermission } from '../access/actor.js';
import { NeedsAllShops } from './webhooks.errors.js';

/** @throws Forbidden, or NeedsAllShops for a credential that is limited to some shops. */
export function requireAll(actor: Actor, permission: 'webhooks:read' | 'webhooks:write'): void {
  requirePermission(actor, permission);
  if (actor.shopIds !== null) throw new NeedsAllShops();
}
