import { Controller, Get, HttpCode, Param, Post } from '@nestjs/common';
import { Id, PlatformExpectation } from '#libs/contracts/index.js';
import { Call, Caller } from '../http/call.js';
import { Operation } from '../http/operation.js';

@Controller('v1/platforms/:id/expectation')
export class ExpectationController {
  @Get()
  @Operation({
    id: 'platformExpectation',
    summary: 'What a sound vehicle of a platform is expected to show, and from whose readings that is known',
    permission: 'platforms:read',
    params: { id: Id },
    reply: PlatformExpectation,
  })
  platformExpectation(@Caller() call: Call, @Param('id', { schema: Id }) id: string) {
    return call.casebook.expectation.platformExpectation(call.actor, id);
  }

  @Post()
  @HttpCode(200)
  @Operation({
    id: 'learnExpectation',
    summary: 'Learn it again from the known-good readings there are now; nothing new makes no new version',
    permission: 'platforms:write',
    params: { id: Id },
    reply: PlatformExpectation,
    creates: true,
  })
  learnExpectation(@Caller() call: Call, @Param('id', { schema: Id }) id: string) {
    return call.create(
      (casebook) => casebook.expectation.learnExpectation(call.actor, id),
      () => ({ status: 200 }),
    );
  }
}
