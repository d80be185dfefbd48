import { Controller, Get, Query } from '@nestjs/common';
import type { z } from 'zod';
import { EngineQuality, JudgedCase, JudgedCaseFilter, PageInput, pageOf, QualityQuestion } from '#libs/contracts/index.js';
import { Call, Caller } from '../http/call.js';
import { Operation } from '../http/operation.js';

export const JudgedCasePage = pageOf(JudgedCase, 'JudgedCasePage');
const JudgedCaseQuery = JudgedCaseFilter.extend(PageInput.shape);

@Controller('v1/engine/quality')
export class QualityController {
  @Get()
  @Operation({
    id: 'engineQuality',
    summary: 'How well the engine did on cases whose cause was proved, with the figures of the simulated study beside it',
    permission: 'outcomes:read',
    query: QualityQuestion,
    reply: EngineQuality,
  })
  engineQuality(@Caller() call: Call, @Query({ schema: QualityQuestion }) query: QualityQuestion) {
    return call.casebook.quality.engineQuality(call.actor, query);
  }

  @Get('cases')
  @Operation({
    id: 'listJudgedCases',
    summary: 'The proved cases behind a figure of quality, newest first',
    permission: 'cases:read',
    query: JudgedCaseQuery,
    reply: JudgedCasePage,
  })
  async listJudgedCases(
    @Caller() call: Call,
    @Query({ schema: JudgedCaseQuery }) { first, after, ...filter }: z.infer<typeof JudgedCaseQuery>,
  ) {
    return call.paged(await call.casebook.quality.listJudgedCases(call.actor, filter, { first, after }));
  }
}
