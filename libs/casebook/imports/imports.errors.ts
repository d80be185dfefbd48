import { DomainError, type ProblemIssue } from '#libs/contracts/index.js';

export class ImportNotFound extends DomainError {
  readonly kind = 'not_found' as const;
  readonly code = 'imports/not_found';
  constructor(id: string) {
    super(`There is no import ${id} here.`);
  }
}

export class RowNotFound extends DomainError {
  readonly kind = 'not_found' as const;
  readonly code = 'imports/row_not_found';
  constructor(line: number) {
    super(`This import has no row at line ${line}.`);
  }
}

export class RowNotRejected extends DomainError {
  readonly kind = 'conflict' as const;
  readonly code = 'imports/row_not_rejected';
  constructor(line: number) {
    super(`The row at line ${line} was not rejected, or what was sent is no longer kept. Send the order again as a case or in a new file.`);
  }
}

export class ImportNotDone extends DomainError {
  readonly kind = 'conflict' as const;
  readonly code = 'imports/not_done';
  override readonly retryAfterSeconds = 2;
  constructor() {
    super('The file is still being worked through. Wait until the import is done.');
  }
}

export class MappingNotFound extends DomainError {
  readonly kind = 'not_found' as const;
  readonly code = 'imports/mapping_not_found';
  constructor(name: string, known: readonly string[]) {
    super(`There is no mapping "${name}" here. ${known.length > 0 ? `Saved mappings: ${known.join(', ')}.` : 'None is saved yet.'}`);
  }
}

/** The heading of a file does not fit. */
export class HeadingRefused extends DomainError {
  readonly kind = 'invalid' as const;
  readonly code = 'imports/heading';
  constructor(issues: readonly ProblemIssue[]) {
    super('The heading of the file does not fit; see errors. Nothing was stored.', issues);
  }
}

export class FileUnreadable extends DomainError {
  readonly kind = 'malformed' as const;
  readonly code = 'imports/unreadable';
  constructor(detail: string, options?: { cause?: unknown }) {
    super(`The file cannot be read: ${detail} Nothing was stored.`, [], options);
  }
}

export class FileTooLarge extends DomainError {
  readonly kind = 'too_large' as const;
  readonly code = 'imports/too_large';
  constructor(detail: string) {
    super(`${detail} Nothing was stored. Split the file.`);
  }
}

export class UploadUnderway extends DomainError {
  readonly kind = 'conflict' as const;
  readonly code = 'imports/underway';
  override readonly retryAfterSeconds = 5;
  constructor() {
    super('A file with this Idempotency-Key is being received at this moment. If its connection was cut, try again in some seconds.');
  }
}
