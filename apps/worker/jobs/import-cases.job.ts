import type { Casebook } from '#libs/casebook/index.js';

/** Carries an import out, step by step; a step that was interrupted is taken again whole. After the last try the import says that it failed; a try that moves it on counts as none (`renew`). */
export async function importCases(
  casebook: Casebook,
  orgId: string,
  importId: string,
  { isLastTry, signal, renew }: { readonly isLastTry: boolean; readonly signal?: AbortSignal; readonly renew?: () => Promise<void> },
): Promise<void> {
  let moved = false;
  try {
    await casebook.imports.carryOut(orgId, importId, signal, async () => {
      moved = true;
      await renew?.();
    });
  } catch (error) {
    if (isLastTry && !moved && !signal?.aborted) await casebook.imports.giveUp(orgId, importId);
    throw error;
  }
}
