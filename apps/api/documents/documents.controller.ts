import { Body, Controller, Delete, Get, Inject, Param, Post, Query } from '@nestjs/common';
import { Deleted, Id, NewTrustedDocument, PageInput, pageOf, TrustedDocument } from '#libs/contracts/index.js';
import { Documents } from '../graphql/documents.js';
import { Call, Caller } from '../http/call.js';
import { Operation } from '../http/operation.js';
import { NEW_TRUSTED_DOCUMENT_EXAMPLE } from './documents.examples.js';

export const TrustedDocumentPage = pageOf(TrustedDocument, 'TrustedDocumentPage');

@Controller('v1/documents')
export class DocumentsController {
  constructor(@Inject(Documents) private readonly documents: Documents) {}

  @Post()
  @Operation({
    id: 'trustDocument',
    summary: 'Trust a GraphQL document, to be asked for by its hash',
    permission: 'documents:write',
    body: NewTrustedDocument,
    example: NEW_TRUSTED_DOCUMENT_EXAMPLE,
    reply: TrustedDocument,
    status: 201,
    creates: true,
  })
  trust(@Caller() call: Call, @Body({ schema: NewTrustedDocument }) body: NewTrustedDocument) {
    this.documents.requireTrustworthy(body.query);
    return call.create(
      (casebook) => casebook.documents.trust(call.actor, body),
      () => ({}),
    );
  }

  @Get()
  @Operation({
    id: 'listDocuments',
    summary: 'Trusted GraphQL documents',
    permission: 'documents:read',
    query: PageInput,
    reply: TrustedDocumentPage,
  })
  async list(@Caller() call: Call, @Query({ schema: PageInput }) page: PageInput) {
    return call.paged(await call.casebook.documents.listDocuments(call.actor, page));
  }

  @Delete(':id')
  @Operation({
    id: 'distrustDocument',
    summary: 'Trust a document no more',
    permission: 'documents:write',
    params: { id: Id },
    reply: Deleted,
  })
  distrust(@Caller() call: Call, @Param('id', { schema: Id }) id: string) {
    return call.casebook.documents.distrust(call.actor, id);
  }
}
