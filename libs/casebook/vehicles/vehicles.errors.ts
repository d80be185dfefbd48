import { DomainError } from '#libs/contracts/index.js';

export class VehicleNotFound extends DomainError {
  readonly kind = 'not_found' as const;
  readonly code = 'vehicles/not_found';
  constructor() {
    super('No vehicle with this number has been seen by your organisation.');
  }
}

export class VehicleUnnamed extends DomainError {
  readonly kind = 'invalid' as const;
  readonly code = 'vehicles/unnamed';
  constructor() {
    super('Give the VIN or the plate of the vehicle to look for.', [
      { pointer: '', code: 'vehicles/unnamed', detail: 'Neither vin nor plate was given.', remedy: 'Send {"vin": "…"} or {"plate": "…"}.' },
    ]);
  }
}

/** Two records that cannot be merged, or not that way round. */
export class MergeRefused extends DomainError {
  readonly kind = 'conflict' as const;
  readonly code = 'vehicles/merge_refused';
  constructor(detail: string, remedy: string) {
    super(`${detail} ${remedy}`);
  }
}

export class MergeNotFound extends DomainError {
  readonly kind = 'not_found' as const;
  readonly code = 'vehicles/merge_not_found';
  constructor(id: string) {
    super(`This vehicle has no merge ${id}.`);
  }
}
