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
