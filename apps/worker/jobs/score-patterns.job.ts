import type { Casebook, WeighPatterns } from '#libs/casebook/index.js';

/** Weighs the recurring patterns of an organisation; a failure is said on the task before the queue tries again. */
export async function scorePatterns(casebook: Casebook, orgId: string, taskId: string, compute?: WeighPatterns): Promise<void> {
  try {
    await casebook.patterns.scorePatterns(orgId, taskId, compute);
  } catch (error) {
    await casebook.patterns.scoringFailed(orgId, taskId);
    throw error;
  }
}
