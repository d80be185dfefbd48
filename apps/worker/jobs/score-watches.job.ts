import type { Casebook } from '#libs/casebook/index.js';

/** Looks at the watched streams of an organisation; a failure is said on the task before the queue tries again. */
export async function scoreWatches(casebook: Casebook, orgId: string, taskId: string): Promise<void> {
  try {
    await casebook.watches.scoreWatches(orgId, taskId);
  } catch (error) {
    await casebook.watches.scoringFailed(orgId, taskId);
    throw error;
  }
}
