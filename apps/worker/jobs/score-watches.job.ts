import type { Casebook, LookAtWatches } from '#libs/casebook/index.js';

/** Looks at the watched streams of an organisation; a failure is said on the task before the queue tries again. */
export async function scoreWatches(casebook: Casebook, orgId: string, taskId: string, compute?: LookAtWatches): Promise<void> {
  try {
    await casebook.watches.scoreWatches(orgId, taskId, compute);
  } catch (error) {
    await casebook.watches.scoringFailed(orgId, taskId);
    throw error;
  }
}
