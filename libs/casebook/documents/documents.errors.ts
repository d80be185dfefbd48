import { DomainError } from '#libs/contracts/index.js';

export class DocumentNotFound extends DomainError {
  readonly kind = 'not_found' as const;
  readonly code = 'documents/not_found';
  constructor() {
    super(
      'No such document is trusted here. Send its text to POST /v1/documents first; its identifier is the hash of the text to the byte.',
    );
  }
}

export class TooManyDocuments extends DomainError {
  readonly kind = 'conflict' as const;
  readonly code = 'documents/too_many';
  constructor(limit: number) {
    super(`${limit} documents are trusted already, the limit. Delete those that no client asks for any more.`);
  }
}

export class TrustedDocumentsOnly extends DomainError {
  readonly kind = 'forbidden' as const;
  readonly code = 'documents/only_trusted';
  constructor() {
    super('This key may only ask for trusted documents: send a documentId instead of a query, and have new ones trusted with another key.');
  }
}
