import { DomainError } from '#libs/contracts/index.js';

/** A machine that is not there, or stands at a shop that is not the caller's: the two are not told apart. So for cylinders and entries. */
export class MachineNotFound extends DomainError {
  readonly kind = 'not_found' as const;
  readonly code = 'ledger/machine_not_found';
  constructor(id: string, pointer = 'id') {
    super(`There is no machine ${id} that you may use.`, [
      { pointer, code: 'ledger/machine_not_found', detail: `There is no machine ${id} here.`, remedy: 'List them with GET /v1/machines.' },
    ]);
  }
}

export class CylinderNotFound extends DomainError {
  readonly kind = 'not_found' as const;
  readonly code = 'ledger/cylinder_not_found';
  constructor(id: string, pointer = 'id') {
    super(`There is no cylinder ${id} that you may use.`, [
      {
        pointer,
        code: 'ledger/cylinder_not_found',
        detail: `There is no cylinder ${id} here.`,
        remedy: 'List them with GET /v1/cylinders.',
      },
    ]);
  }
}

export class EntryNotFound extends DomainError {
  readonly kind = 'not_found' as const;
  readonly code = 'ledger/entry_not_found';
  constructor(id: string) {
    super(`There is no entry ${id} that you may use. List them with GET /v1/refrigerant-entries.`);
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
