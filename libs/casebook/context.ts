import type { Tx } from '#libs/database/index.js';
import type { AllowedTargets } from './events/send.js';
import type { GroupElsewhere } from './outcomes/grouped.js';

/** Opens one transaction that sees one organisation, or joins the one that is already open (`boundTo`). */
export type TenantTransaction = <T>(orgId: string, work: (tx: Tx) => Promise<T>, options?: { readonly readOnly?: boolean }) => Promise<T>;

/** What every service is made from. Built once at start; nothing in it changes. */
export interface CasebookContext {
  readonly inTenant: TenantTransaction;
  readonly clock: () => Date;
  /** 32 bytes; seals each organisation's hash key. */
  readonly serverSecret: Buffer;
  /** Unsealed hash keys by organisation: they never change while the server runs. */
  readonly hashKeys: Map<string, Buffer>;
  /** Organisations whose history is known to wait for no run of the present engine. */
  readonly caughtUp: Set<string>;
  /** When known-good readings of a platform were last asked to be looked at, by organisation and platform, ms. */
  readonly expectationsAsked: Map<string, number>;
  /** Where events may be delivered to; the public internet when absent. */
  readonly webhookTargets?: AllowedTargets;
  /** Who tells the returns of a large region apart in place of this process; nobody when absent. */
  readonly groupElsewhere?: GroupElsewhere;
}

/** The same context, with every operation joining the transaction that is given: idempotent requests and imports put several into one. */
export function boundTo(context: CasebookContext, tx: Tx, orgId: string): CasebookContext {
  // Nobody else sees what the open transaction has written.
  const { groupElsewhere: _elsewhere, ...here } = context;
  return {
    ...here,
    inTenant: (asked, work) => {
      if (asked !== orgId) throw new Error('an operation of another organisation cannot join this transaction');
      return work(tx);
    },
  };
}
