import { type ArgumentMetadata, Injectable, type PipeTransform } from '@nestjs/common';
import type { z } from 'zod';
import { parseInput } from '#libs/casebook/index.js';

/** Validates whatever carries a schema (`@Body({ schema })`, `@Query({ schema })`, `@Param('id', { schema })`), all faults at once. */
@Injectable()
export class SchemaPipe implements PipeTransform {
  transform(value: unknown, metadata: ArgumentMetadata & { schema?: unknown }): unknown {
    if (!metadata.schema) return value;
    return parseInput(metadata.schema as z.ZodType, value ?? (metadata.type === 'body' ? null : value));
  }
}
