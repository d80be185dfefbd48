import { DomainError } from '#libs/contracts/index.js';

export class PlatformNotFound extends DomainError {
  readonly kind = 'not_found' as const;
  readonly code = 'platforms/not_found';
  constructor(named: string, pointer = 'platformId') {
    super(`There is no platform "${named}" here.`, [
      {
        pointer,
        code: 'platforms/not_found',
        detail: `No platform "${named}" in this organisation.`,
        remedy: 'List the platforms with GET /v1/platforms, or leave the platform out.',
      },
    ]);
  }
}

export class PlatformCodeTaken extends DomainError {
  readonly kind = 'conflict' as const;
  readonly code = 'platforms/code_taken';
  constructor(code: string) {
    super(`Another platform already has the code "${code}". Choose a different code.`);
  }
}
