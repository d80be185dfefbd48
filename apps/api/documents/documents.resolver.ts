import { Inject } from '@nestjs/common';
import { Mutation, Query, Resolver } from '@nestjs/graphql';
import { Deleted, NewTrustedDocument, TrustedDocument } from '#libs/contracts/index.js';
import { After, First, type GraphCall, GraphCaller, IdArg, Input } from '../graphql/arguments.js';
import { objectTypeOf } from '../graphql/derive.js';
import { Documents } from '../graphql/documents.js';
import { TrustedDocumentPage } from './documents.controller.js';

const TrustedDocumentType = objectTypeOf(TrustedDocument);
const TrustedDocumentPageType = objectTypeOf(TrustedDocumentPage);
const DeletedType = objectTypeOf(Deleted);

@Resolver()
export class DocumentsResolver {
  constructor(@Inject(Documents) private readonly documents: Documents) {}

  @Mutation(() => TrustedDocumentType)
  trustDocument(@GraphCaller() call: GraphCall, @Input(NewTrustedDocument) input: NewTrustedDocument) {
    this.documents.requireTrustworthy(input.query);
    return call.casebook.documents.trust(call.actor, input);
  }

  @Query(() => TrustedDocumentPageType)
  trustedDocuments(@GraphCaller() call: GraphCall, @First() first?: number, @After() after?: string) {
    return call.casebook.documents.listDocuments(call.actor, { first, after });
  }

  @Mutation(() => DeletedType)
  distrustDocument(@GraphCaller() call: GraphCall, @IdArg() id: string) {
    return call.casebook.documents.distrust(call.actor, id);
  }
}
