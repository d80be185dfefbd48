import { DomainError } from '#libs/contracts/index.js';

export class ShopNotFound extends DomainError {
  readonly kind = 'not_found' as const;
  readonly code = 'shops/not_found';
  constructor(named: string, pointer = 'shopId') {
    super(`There is no shop "${named}" that you may use.`, [
      {
        pointer,
        code: 'shops/not_found',
        detail: `No shop "${named}" is visible to this credential.`,
        remedy: 'List your shops with GET /v1/shops and take one of those.',
      },
    ]);
  }
}

export class ShopCodeTaken extends DomainError {
  readonly kind = 'conflict' as const;
  readonly code = 'shops/code_taken';
  constructor(code: string) {
    super(`Another shop already has the code "${code}". Choose a different code.`);
  }
}
