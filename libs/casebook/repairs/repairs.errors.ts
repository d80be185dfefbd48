import { DomainError } from '#libs/contracts/index.js';

export class RepairNotFound extends DomainError {
  readonly kind = 'not_found' as const;
  readonly code = 'repairs/not_found';
  constructor(id: string) {
    super(`This case has no repair ${id}. Its repairs stand in the case: GET /v1/cases/{id}.`);
  }
}

/** The car was deleted: its repairs stay in the counts as they stood, and what followed them is not known any more. */
export class CarDeleted extends DomainError {
  readonly kind = 'conflict' as const;
  readonly code = 'repairs/car_deleted';
  constructor() {
    super('The car of this case was deleted, so what followed its repairs cannot be derived again. The repair can still be deleted.');
  }
}
