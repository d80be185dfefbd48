import { Args, Int, Mutation, Query, Resolver } from '@nestjs/graphql';
import {
  ImportRow,
  ImportRowPage,
  ImportRun,
  ImportRunPage,
  NewSavedMapping,
  RowCorrection,
  RowFilter,
  SavedMapping,
} from '#libs/contracts/index.js';
import { After, First, type GraphCall, GraphCaller, IdArg, Input, OptionalInput } from '../graphql/arguments.js';
import { objectTypeOf } from '../graphql/derive.js';

const RunType = objectTypeOf(ImportRun);
const RunPageType = objectTypeOf(ImportRunPage);
const RowType = objectTypeOf(ImportRow);
const RowPageType = objectTypeOf(ImportRowPage);
const MappingType = objectTypeOf(SavedMapping);

/** Files themselves come over REST; everything about them can be asked here too. */
@Resolver()
export class ImportsResolver {
  @Query(() => RunPageType)
  imports(@GraphCaller() call: GraphCall, @First() first?: number, @After() after?: string) {
    return call.casebook.imports.listImports(call.actor, { first, after });
  }

  @Query(() => RunType, { name: 'import' })
  importRun(@GraphCaller() call: GraphCall, @IdArg() id: string) {
    return call.casebook.imports.getImport(call.actor, id);
  }

  @Query(() => RowPageType)
  importRows(
    @GraphCaller() call: GraphCall,
    @IdArg('importId') importId: string,
    @OptionalInput('filter', RowFilter) filter?: RowFilter,
    @First() first?: number,
    @After() after?: string,
  ) {
    return call.casebook.imports.listRows(call.actor, importId, filter ?? {}, { first, after });
  }

  @Query(() => [MappingType])
  importMappings(@GraphCaller() call: GraphCall) {
    return call.casebook.imports.listMappings(call.actor);
  }

  @Mutation(() => MappingType)
  saveMapping(@GraphCaller() call: GraphCall, @Input(NewSavedMapping) input: NewSavedMapping) {
    return call.casebook.imports.saveMapping(call.actor, input);
  }

  @Mutation(() => RowType)
  correctImportRow(
    @GraphCaller() call: GraphCall,
    @IdArg('importId') importId: string,
    @Args('line', { type: () => Int }) line: number,
    @Input(RowCorrection) input: RowCorrection,
  ) {
    return call.casebook.imports.correctRow(call.actor, importId, line, input);
  }

  @Mutation(() => RunType)
  replayImport(@GraphCaller() call: GraphCall, @IdArg('importId') importId: string) {
    return call.casebook.imports.replayRejected(call.actor, importId);
  }
}
