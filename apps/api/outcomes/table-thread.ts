import { type Actor, type Casebook, openCasebook } from '#libs/casebook/index.js';
import type { GroupedQuestion, GroupedReturns } from '#libs/contracts/index.js';
import { createPool } from '#libs/database/index.js';

export interface TableTask {
  /** Of the database, as the application role. */
  readonly url: string;
  readonly actor: Actor;
  readonly question: GroupedQuestion;
  readonly asOf: Date;
}

/** An error on its way between threads keeps its message alone: what the caller judges it by goes beside it. */
export type TableReport =
  | { readonly answer: GroupedReturns }
  | { readonly failed: { readonly name: string; readonly message: string; readonly code?: string; readonly severity?: string } };

let casebook: Casebook | null = null;
let now = new Date(0);

/** A table from a casebook of this thread's own: it keeps the packs it has read, and waits for one connection of its own. */
export async function table({ url, actor, question, asOf }: TableTask): Promise<TableReport> {
  now = asOf;
  // No vehicle is looked up here: the secret that hashes them stays where it is.
  casebook ??= openCasebook(createPool(url, { max: 1, applicationName: 'coolback tables' }), Buffer.alloc(32), () => now);
  try {
    return { answer: await casebook.outcomes.groupedReturns(actor, question) };
  } catch (error) {
    const { name, message, code, severity } = error as Error & { code?: string; severity?: string };
    return { failed: { name, message, ...(code === undefined ? {} : { code }), ...(severity === undefined ? {} : { severity }) } };
  }
}
