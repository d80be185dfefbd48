import { DomainError } from '#libs/contracts/index.js';

export class PhotographNotFound extends DomainError {
  readonly kind = 'not_found' as const;
  readonly code = 'photographs/not_found';
  constructor(id: string) {
    super(`There is no photograph ${id} on this case.`);
  }
}

export class NotAPicture extends DomainError {
  readonly kind = 'invalid' as const;
  readonly code = 'photographs/not_a_picture';
  constructor() {
    super('The data is no whole still picture of JPEG, PNG or WebP, or one of more than 4096 px a side.', [
      {
        pointer: '/data',
        code: 'photographs/not_a_picture',
        detail: 'It does not begin, go on and end as such a picture does, or it is too wide or high.',
        remedy: 'Send the bytes of one such file in base64, scaled down; a name or a media type does not make it one.',
      },
    ]);
  }
}

export class TooManyPhotographs extends DomainError {
  readonly kind = 'conflict' as const;
  readonly code = 'photographs/too_many';
  constructor(most: number) {
    super(`A case holds at most ${most} photographs. Remove one first.`);
  }
}
