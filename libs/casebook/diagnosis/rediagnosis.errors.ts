import { DomainError } from '#libs/contracts/index.js';

export class RediagnosisNotFound extends DomainError {
  readonly kind = 'not_found' as const;
  readonly code = 'diagnosis/rediagnosis_not_found';
  constructor(id: string) {
    super(`There is no re-diagnosis ${id} here.`);
  }
}
