import type { Casebook } from '#libs/casebook/index.js';
import { loadRegion } from '#libs/demo/index.js';

/**
 * Loads what is left of the demo region, batch by batch; a batch that was interrupted is loaded again whole. Once it is there its board is folded, what its
 * sound vehicles read is learned, and its patterns and watches are looked at. `renew` is told of the first batch that was stored.
 */
export async function loadDemo(
  casebook: Casebook,
  orgId: string,
  taskId: string,
  { signal, renew }: { readonly signal?: AbortSignal; readonly renew?: () => Promise<void> },
): Promise<void> {
  await loadRegion(casebook, orgId, {
    taskId,
    until: Number.POSITIVE_INFINITY,
    ...(signal ? { signal } : {}),
    ...(renew ? { onFirstBatch: renew } : {}),
  });
  // A job that returns counts as done: one that was stopped must fail, so that the queue starts it again.
  if (signal?.aborted) throw new Error('stopped before the region was whole; it goes on at the next start');
  await casebook.boards.foldBoards(orgId);
  await casebook.expectation.learnAll(orgId);
  await casebook.tasks.startTask(orgId, 'patterns.score', 1);
  await casebook.tasks.startTask(orgId, 'watches.score', 1);
}
