import { createHmac } from 'node:crypto';
import type { Tx } from '#libs/database/index.js';
import { findOrganisation } from '../access/access.queries.js';
import type { CasebookContext } from '../context.js';
import { unseal } from './identity-hash.js';
import { VehicleNotFound } from './vehicles.errors.js';

/** The organisation's own key, unsealed once a process. @throws VehicleNotFound when there is no such organisation. */
export async function organisationKey(context: CasebookContext, tx: Tx, orgId: string): Promise<Buffer> {
  let key = context.hashKeys.get(orgId);
  if (!key) {
    const organisation = await findOrganisation(tx, orgId);
    if (!organisation) throw new VehicleNotFound();
    key = unseal(organisation.hashKey, context.serverSecret);
    context.hashKeys.set(orgId, key);
  }
  return key;
}

/** A key for one purpose, so that what is sealed for one can never be opened as the other. */
export function keyFor(purpose: 'import rows' | 'import references' | 'webhook secrets' | 'pins', organisation: Buffer): Buffer {
  return createHmac('sha256', organisation).update(purpose).digest();
}
