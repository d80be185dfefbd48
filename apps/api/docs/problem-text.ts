import { STATUS_OF_KIND } from '#libs/contracts/index.js';

/** What a problem means and how it is mended, by the slug its `type` names. Generic words for every code; special ones where they help. */
export interface ProblemText {
  readonly code: string;
  readonly status: number;
  readonly meaning: string;
  readonly remedy: string;
}

export const entry = (code: string, kind: keyof typeof STATUS_OF_KIND, meaning: string, remedy: string): ProblemText => ({
  code,
  status: STATUS_OF_KIND[kind],
  meaning,
  remedy,
});
