import { DomainError } from '#libs/contracts/index.js';

const NOUNS = {
  machine: { code: 'ledger/machine_not_found', words: 'no machine', list: 'GET /v1/machines' },
  cylinder: { code: 'ledger/cylinder_not_found', words: 'no cylinder', list: 'GET /v1/cylinders' },
  entry: { code: 'ledger/entry_not_found', words: 'no entry', list: 'GET /v1/refrigerant-entries' },
} as const;

/** A machine, cylinder or entry that is not there, or lies at a shop that is not the caller's: the two are not told apart. */
export class HoldingNotFound extends DomainError {
  readonly kind = 'not_found' as const;
  readonly code: (typeof NOUNS)[keyof typeof NOUNS]['code'];
  constructor(noun: keyof typeof NOUNS, id: string, pointer = 'id') {
    const { code, words, list } = NOUNS[noun];
    super(`There is ${words} ${id} that you may use.`, [
      { pointer, code, detail: `There is ${words} ${id} at a shop of yours.`, remedy: `List them with ${list}.` },
    ]);
    this.code = code;
  }
}

/** What still stands in the books cannot be deleted. */
export class StillInUse extends DomainError {
  readonly kind = 'conflict' as const;
  readonly code = 'ledger/in_use';
  constructor(noun: 'machine' | 'cylinder') {
    super(`This ${noun} stands in entries or repairs. Set retiredOn instead: what was weighed with it stays true.`);
  }
}

/** An entry that contradicts itself or what it names. */
export class EntryContradicts extends DomainError {
  readonly kind = 'invalid' as const;
  readonly code = 'ledger/contradiction';
  constructor(pointer: string, detail: string, remedy: string) {
    super(detail, [{ pointer, code: 'ledger/contradiction', detail, remedy }]);
  }
}
