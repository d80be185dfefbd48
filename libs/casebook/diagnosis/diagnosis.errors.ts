import { DomainError } from '#libs/contracts/index.js';

export class SystemUnknown extends DomainError {
  readonly kind = 'invalid' as const;
  readonly code = 'diagnosis/system_unknown';
  constructor(pointer: string) {
    super('The engine must know the system it judges.', [
      {
        pointer,
        code: 'diagnosis/system_unknown',
        detail: 'Neither a platform nor a description of the system was given.',
        remedy:
          'Name a platform, or answer three questions in "system": layout (tube or valve, bottle on the condenser), compressor kind, refrigerant.',
      },
    ]);
  }
}
