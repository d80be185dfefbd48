import { Body, Controller, Get, HttpCode, Inject, Param, Post, Query, Res } from '@nestjs/common';
import type { FastifyReply } from 'fastify';
import { z } from 'zod';
import { ChangeFilter, Id, PageInput, pageOf, Rediagnosis, RediagnosisChange, RediagnosisRequest } from '#libs/contracts/index.js';
import { Call, Caller } from '../http/call.js';
import { sendEvents } from '../http/event-stream.js';
import { Readiness } from '../http/health.controller.js';
import { Operation } from '../http/operation.js';
import { REDIAGNOSIS_EXAMPLE } from './diagnosis.examples.js';

export const RediagnosisPage = pageOf(Rediagnosis, 'RediagnosisPage');
export const RediagnosisChangePage = pageOf(RediagnosisChange, 'RediagnosisChangePage');
const ChangeQuery = ChangeFilter.extend(PageInput.shape);
const byId = { id: Id };

@Controller('v1/rediagnoses')
export class RediagnosisController {
  constructor(@Inject(Readiness) private readonly readiness: Readiness) {}

  @Post()
  @HttpCode(202)
  @Operation({
    id: 'requestRediagnosis',
    summary: 'Judge history again by the present engine; the worker does it. One that waits or runs is answered instead of a second',
    permission: 'platforms:write',
    body: RediagnosisRequest,
    example: REDIAGNOSIS_EXAMPLE,
    reply: Rediagnosis,
    status: 202,
    creates: true,
  })
  requestRediagnosis(@Caller() call: Call, @Body({ schema: RediagnosisRequest }) body: RediagnosisRequest) {
    return call.create(
      (casebook) => casebook.rediagnosis.requestRediagnosis(call.actor, body),
      (run) => ({ status: 202, location: `/v1/rediagnoses/${run.id}` }),
    );
  }

  @Get()
  @Operation({
    id: 'listRediagnoses',
    summary: 'Re-diagnoses of history, newest first',
    permission: 'outcomes:read',
    query: PageInput,
    reply: RediagnosisPage,
  })
  async listRediagnoses(@Caller() call: Call, @Query({ schema: PageInput }) page: PageInput) {
    return call.paged(await call.casebook.rediagnosis.listRediagnoses(call.actor, page));
  }

  @Get(':id')
  @Operation({
    id: 'getRediagnosis',
    summary: 'How far a re-diagnosis is, and what it changed',
    permission: 'outcomes:read',
    params: byId,
    reply: Rediagnosis,
  })
  getRediagnosis(@Caller() call: Call, @Param('id', { schema: Id }) id: string) {
    return call.casebook.rediagnosis.getRediagnosis(call.actor, id);
  }

  @Get(':id/events')
  @Operation({
    id: 'rediagnosisEvents',
    summary: 'Progress of a re-diagnosis as server-sent events; the data of each is a Rediagnosis',
    permission: 'outcomes:read',
    params: byId,
    reply: z.string(),
    replyType: 'text/event-stream',
  })
  async events(@Caller() call: Call, @Param('id', { schema: Id }) id: string, @Res() reply: FastifyReply) {
    await call.casebook.rediagnosis.getRediagnosis(call.actor, id);
    sendEvents(reply, named(call.casebook.rediagnosis.progress(call.actor, id, () => !this.readiness.draining)));
  }

  @Get(':id/changes')
  @Operation({
    id: 'listRediagnosisChanges',
    summary: 'Cases whose first answer changed, or its probability by 0.1 or more',
    permission: 'cases:read',
    params: byId,
    query: ChangeQuery,
    reply: RediagnosisChangePage,
  })
  async listChanges(
    @Caller() call: Call,
    @Param('id', { schema: Id }) id: string,
    @Query({ schema: ChangeQuery }) { first, after, ...filter }: z.infer<typeof ChangeQuery>,
  ) {
    return call.paged(await call.casebook.rediagnosis.listChanges(call.actor, id, filter, { first, after }));
  }
}

async function* named(progress: AsyncGenerator<Rediagnosis | null>) {
  for await (const run of progress) yield run === null ? null : { event: run.state, data: run };
}
