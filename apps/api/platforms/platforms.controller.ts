import { Body, Controller, Get, Param, Patch, Post, Query } from '@nestjs/common';
import { Id, NewPlatform, PageInput, Platform, PlatformPatch, pageOf } from '#libs/contracts/index.js';
import { Call, Caller } from '../http/call.js';
import { Operation } from '../http/operation.js';
import { NEW_PLATFORM_EXAMPLE, PLATFORM_PATCH_EXAMPLE } from './platforms.examples.js';

export const PlatformPage = pageOf(Platform, 'PlatformPage');

@Controller('v1/platforms')
export class PlatformsController {
  @Get()
  @Operation({
    id: 'listPlatforms',
    summary: 'Vehicle platforms of the organisation',
    permission: 'platforms:read',
    query: PageInput,
    reply: PlatformPage,
  })
  async listPlatforms(@Caller() call: Call, @Query({ schema: PageInput }) page: PageInput) {
    return call.paged(await call.casebook.platforms.listPlatforms(call.actor, page));
  }

  @Post()
  @Operation({
    id: 'addPlatform',
    summary: 'Add a platform',
    permission: 'platforms:write',
    body: NewPlatform,
    example: NEW_PLATFORM_EXAMPLE,
    reply: Platform,
    status: 201,
    creates: true,
  })
  addPlatform(@Caller() call: Call, @Body({ schema: NewPlatform }) body: NewPlatform) {
    return call.create(
      (casebook) => casebook.platforms.addPlatform(call.actor, body),
      (platform) => ({ location: `/v1/platforms/${platform.id}`, version: platform.version }),
    );
  }

  @Get(':id')
  @Operation({ id: 'getPlatform', summary: 'One platform', permission: 'platforms:read', params: { id: Id }, reply: Platform })
  async getPlatform(@Caller() call: Call, @Param('id', { schema: Id }) id: string) {
    return call.tagged(await call.casebook.platforms.getPlatform(call.actor, id));
  }

  @Patch(':id')
  @Operation({
    id: 'changePlatform',
    summary: 'Change a platform',
    permission: 'platforms:write',
    params: { id: Id },
    body: PlatformPatch,
    example: PLATFORM_PATCH_EXAMPLE,
    bodyType: 'application/merge-patch+json',
    ifMatch: 'required',
    reply: Platform,
  })
  async changePlatform(
    @Caller() call: Call,
    @Param('id', { schema: Id }) id: string,
    @Body({ schema: PlatformPatch }) body: PlatformPatch,
  ) {
    return call.tagged(await call.casebook.platforms.changePlatform(call.actor, id, body, call.expectedVersion));
  }
}
