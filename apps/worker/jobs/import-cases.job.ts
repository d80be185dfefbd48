import type { Casebook } from '#libs/casebook/index.js';

/** Carries an import out, step by step; a step that was interrupted is taken again whole. After the last try the import says that it failed. */
export async function importCases(
  casebook: Casebook,
  orgId: string,
  importId: string,
  { isLastTry, signal }: { readonly isLastTry: boolean; readonly signal?: AbortSignal },
): Promise<void> {
  try {
    await casebook.imports.carryOut(orgId, importId, signal);
  } catch (error) {
    if (isLastTry && !signal?.aborted) await casebook.imports.giveUp(orgId, importId);
    throw error;
  }
}
