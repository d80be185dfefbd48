import { DomainError } from '#libs/contracts/index.js';

export class ExportUnreadable extends DomainError {
  readonly kind = 'invalid' as const;
  readonly code = 'leaving/export_unreadable';
  constructor(detail: string) {
    super(`This is not an export that can be taken in: ${detail}`);
  }
}
