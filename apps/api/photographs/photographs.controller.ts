import { Body, Controller, Delete, Get, Param, Post, Res } from '@nestjs/common';
import type { FastifyReply } from 'fastify';
import { Deleted, Id, NewPhotograph, Photograph, PhotographFile, PhotographList } from '#libs/contracts/index.js';
import { Call, Caller } from '../http/call.js';
import { Operation } from '../http/operation.js';
import { NEW_PHOTOGRAPH_EXAMPLE } from './photographs.examples.js';

const ENDINGS = { 'image/jpeg': 'jpg', 'image/png': 'png', 'image/webp': 'webp' } as const;
const ofCase = { id: Id };
const ofPhotograph = { id: Id, photographId: Id };

@Controller('v1/cases/:id/photographs')
export class PhotographsController {
  @Get()
  @Operation({
    id: 'listPhotographs',
    summary: 'Photographs of a case, without the pictures',
    permission: 'cases:read',
    params: ofCase,
    reply: PhotographList,
  })
  async listPhotographs(@Caller() call: Call, @Param('id', { schema: Id }) id: string) {
    return { data: await call.casebook.photographs.listPhotographs(call.actor, id) };
  }

  @Post()
  @Operation({
    id: 'addPhotograph',
    summary: 'Add a photograph of a part, a gauge or a label',
    permission: 'cases:write',
    params: ofCase,
    body: NewPhotograph,
    example: NEW_PHOTOGRAPH_EXAMPLE,
    reply: Photograph,
    status: 201,
    creates: true,
  })
  addPhotograph(@Caller() call: Call, @Param('id', { schema: Id }) id: string, @Body({ schema: NewPhotograph }) body: NewPhotograph) {
    return call.create(
      (casebook) => casebook.photographs.addPhotograph(call.actor, id, body),
      (made) => ({ location: `/v1/cases/${id}/photographs/${made.id}` }),
    );
  }

  /** A picture somebody sent is handed out as a file and as nothing else: no page may run it, frame it or guess its type. */
  @Get(':photographId')
  @Operation({
    id: 'getPhotograph',
    summary: 'The picture itself',
    permission: 'cases:read',
    params: ofPhotograph,
    reply: PhotographFile,
    replyType: 'image/*',
  })
  async getPhotograph(
    @Caller() call: Call,
    @Param('id', { schema: Id }) id: string,
    @Param('photographId', { schema: Id }) photographId: string,
    @Res({ passthrough: true }) reply: FastifyReply,
  ): Promise<Buffer> {
    const { mediaType, sha256, picture } = await call.casebook.photographs.getPicture(call.actor, id, photographId);
    reply.headers({
      'content-type': mediaType,
      'content-disposition': `attachment; filename="photograph-${photographId}.${ENDINGS[mediaType]}"`,
      'content-security-policy': "default-src 'none'; sandbox; frame-ancestors 'none'",
      'cross-origin-resource-policy': 'same-origin',
      etag: `"${sha256}"`,
    });
    return picture;
  }

  @Delete(':photographId')
  @Operation({
    id: 'removePhotograph',
    summary: 'Remove a photograph',
    permission: 'cases:write',
    params: ofPhotograph,
    reply: Deleted,
  })
  removePhotograph(
    @Caller() call: Call,
    @Param('id', { schema: Id }) id: string,
    @Param('photographId', { schema: Id }) photographId: string,
  ) {
    return call.casebook.photographs.removePhotograph(call.actor, id, photographId);
  }
}
