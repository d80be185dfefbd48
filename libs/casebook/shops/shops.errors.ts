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

export class ShopUnnamed extends DomainError {
  readonly kind = 'invalid' as const;
  readonly code = 'shops/unnamed';
  constructor() {
    super('Say which shop this is about.', [
      {
        pointer: '/shopId',
        code: 'shops/unnamed',
        detail: 'No shop was named, and this credential may use more than one (or none).',
        remedy: 'Name one with shopId (or shopCode where it is taken); list yours with GET /v1/shops.',
      },
    ]);
  }
}
