import { DomainError } from '#libs/contracts/index.js';

export class WebhookNotFound extends DomainError {
  readonly kind = 'not_found' as const;
  readonly code = 'webhooks/not_found';
  constructor(id: string) {
    super(`There is no webhook ${id} here.`);
  }
}

export class DeliveryNotFound extends DomainError {
  readonly kind = 'not_found' as const;
  readonly code = 'webhooks/delivery_not_found';
  constructor(id: string) {
    super(`This webhook has no delivery ${id}.`);
  }
}

export class TargetRefused extends DomainError {
  readonly kind = 'invalid' as const;
  readonly code = 'webhooks/target_refused';
  constructor(reason: string) {
    super('Nothing can be delivered to this address.', [
      { pointer: '/url', code: 'webhooks/target_refused', detail: reason, remedy: 'Give an https address on the public internet.' },
    ]);
  }
}

/** Events speak of every shop, so a credential limited to some cannot have them. */
export class NeedsAllShops extends DomainError {
  readonly kind = 'forbidden' as const;
  readonly code = 'webhooks/needs_all_shops';
  constructor() {
    super('Events tell of every shop, and your credential is limited to some. Ask an administrator for a key without that limit.');
  }
}
