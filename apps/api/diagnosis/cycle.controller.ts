import { Body, Controller, Get, HttpCode, Param, Post, Query, Res } from '@nestjs/common';
import type { FastifyReply } from 'fastify';
import { CircuitCycles, DiagnosisQuestion, Id, SaturationCurve, SaturationQuestion } from '#libs/contracts/index.js';
import { Call, Caller } from '../http/call.js';
import { Operation } from '../http/operation.js';
import { DIAGNOSIS_QUESTION_EXAMPLE } from './diagnosis.examples.js';

@Controller('v1')
export class CycleController {
  /** A property of the substance, the same for everybody until the program changes: a client may keep it for a day. */
  @Get('saturation')
  @Operation({
    id: 'saturationCurve',
    summary: 'Saturation curve of a refrigerant: the dome of a pressure-enthalpy diagram',
    query: SaturationQuestion,
    queryExample: { refrigerant: 'R-134a' },
    reply: SaturationCurve,
  })
  saturationCurve(
    @Caller() call: Call,
    @Query({ schema: SaturationQuestion }) { refrigerant }: SaturationQuestion,
    @Res({ passthrough: true }) reply: FastifyReply,
  ) {
    reply.header('cache-control', 'private, max-age=86400');
    return call.casebook.cycles.saturation(refrigerant);
  }

  @Post('cycles')
  @HttpCode(200)
  @Operation({
    id: 'cyclesOfReadings',
    summary: 'Pressure and enthalpy around the circuit: expected of a sound system, and read',
    permission: 'diagnoses:run',
    body: DiagnosisQuestion,
    example: DIAGNOSIS_QUESTION_EXAMPLE,
    reply: CircuitCycles,
  })
  cyclesOfReadings(@Caller() call: Call, @Body({ schema: DiagnosisQuestion }) body: DiagnosisQuestion) {
    return call.casebook.cycles.cyclesOfReadings(call.actor, body);
  }

  @Get('cases/:id/cycles')
  @Operation({
    id: 'cyclesOfCase',
    summary: 'The same for a case, from its latest evidence before any repair',
    permission: 'cases:read',
    params: { id: Id },
    reply: CircuitCycles,
  })
  cyclesOfCase(@Caller() call: Call, @Param('id', { schema: Id }) id: string) {
    return call.casebook.cycles.cyclesOfCase(call.actor, id);
  }
}
