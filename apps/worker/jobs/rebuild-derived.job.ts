import type { Casebook } from '#libs/casebook/index.js';

/** Derives everything again, or only compares; a failure is said on the task before the queue tries again. */
export async function rebuildDerived(
  casebook: Casebook,
  orgId: string,
  taskId: string,
  options: { readonly check: boolean; readonly signal?: AbortSignal },
): Promise<void> {
  try {
    await casebook.rebuilds.rebuild(orgId, taskId, options);
  } catch (error) {
    await casebook.rebuilds.rebuildFailed(orgId, taskId);
    throw error;
  }
}
