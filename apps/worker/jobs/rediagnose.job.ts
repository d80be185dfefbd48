import type { Casebook, JudgeHistory } from '#libs/casebook/index.js';

/** Judges history again, batch by batch; a run that was interrupted goes on after the last batch that was stored. After the last try the run says that it failed. */
export async function rediagnose(
  casebook: Casebook,
  orgId: string,
  runId: string,
  { judge, isLastTry, signal }: { readonly judge: JudgeHistory; readonly isLastTry: boolean; readonly signal?: AbortSignal },
): Promise<void> {
  try {
    await casebook.rediagnosis.carryOut(orgId, runId, judge, signal);
  } catch (error) {
    if (isLastTry && !signal?.aborted) await casebook.rediagnosis.gaveUp(orgId, runId);
    throw error;
  }
}
