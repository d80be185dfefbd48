import type { Casebook, JudgeHistory } from '#libs/casebook/index.js';

/** Judges history again, batch by batch; a run that was interrupted goes on after the last batch that was stored. After the last try the run says that it failed; a try that moves it on counts as none (`renew`). */
export async function rediagnose(
  casebook: Casebook,
  orgId: string,
  runId: string,
  {
    judge,
    isLastTry,
    signal,
    renew,
  }: { readonly judge: JudgeHistory; readonly isLastTry: boolean; readonly signal?: AbortSignal; readonly renew?: () => Promise<void> },
): Promise<void> {
  let moved = false;
  try {
    await casebook.rediagnosis.carryOut(orgId, runId, judge, signal, async () => {
      moved = true;
      await renew?.();
    });
  } catch (error) {
    if (isLastTry && !moved && !signal?.aborted) await casebook.rediagnosis.gaveUp(orgId, runId);
    throw error;
  }
}
