import { Body, Controller, Get, Header, HttpCode, Post, RequestMapping, RequestMethod } from '@nestjs/common';
import { z } from 'zod';
import { DiagnosisQuestion, DiagnosisResult, FaultEntry, SimilarCases, SimilarQuestion } from '#libs/contracts/index.js';
import { UNIT_CODES } from '#libs/units/index.js';
import { Call, Caller } from '../http/call.js';
import { OpenToAll } from '../http/caller.guard.js';
import { Operation } from '../http/operation.js';
import { DIAGNOSIS_QUESTION_EXAMPLE, SIMILAR_QUESTION_EXAMPLE } from './diagnosis.examples.js';

export const FaultCatalogue = z.strictObject({ data: z.array(FaultEntry) }).meta({ id: 'FaultCatalogue' });
export const UnitEntry = z
  .strictObject({ code: z.string(), kind: z.string(), name: z.string(), typedAs: z.array(z.string()) })
  .meta({ id: 'UnitEntry' });
export const UnitList = z.strictObject({ data: z.array(UnitEntry) }).meta({ id: 'UnitList' });

@Controller('v1')
export class DiagnosisController {
  @Post('diagnoses')
  @HttpCode(200)
  @Operation({
    id: 'diagnoseReadings',
    summary: 'Judge readings without saving anything',
    permission: 'diagnoses:run',
    body: DiagnosisQuestion,
    example: DIAGNOSIS_QUESTION_EXAMPLE,
    reply: DiagnosisResult,
  })
  diagnoseReadings(@Caller() call: Call, @Body({ schema: DiagnosisQuestion }) body: DiagnosisQuestion) {
    return call.casebook.diagnosis.diagnoseReadings(call.actor, body);
  }

  /** RFC 10008 QUERY: safe, repeatable, with a body. */
  @RequestMapping({ path: 'similar-cases', method: RequestMethod.QUERY })
  @Header('accept-query', '"application/json"')
  querySimilar(@Caller() call: Call, @Body({ schema: SimilarQuestion }) body: SimilarQuestion) {
    return call.casebook.history.similarToReadings(call.actor, body);
  }

  @Post('similar-cases')
  @Header('accept-query', '"application/json"')
  @HttpCode(200)
  @Operation({
    id: 'similarToReadings',
    summary: 'Past cases like these readings; QUERY on the same address does the same',
    permission: 'cases:read',
    body: SimilarQuestion,
    example: SIMILAR_QUESTION_EXAMPLE,
    reply: SimilarCases,
  })
  similarToReadings(@Caller() call: Call, @Body({ schema: SimilarQuestion }) body: SimilarQuestion) {
    return call.casebook.history.similarToReadings(call.actor, body);
  }

  @Get('faults')
  @Operation({ id: 'listFaults', summary: 'The catalogue of faults and measurement mistakes', reply: FaultCatalogue })
  listFaults(@Caller() call: Call) {
    return { data: call.casebook.diagnosis.listFaults() };
  }

  @Get('units')
  @OpenToAll()
  @Operation({ id: 'listUnits', summary: 'Unit codes (UCUM) that values may be typed in', reply: UnitList })
  listUnits() {
    return { data: UNIT_CODES.map(({ code, kind, name, typedAs }) => ({ code, kind, name, typedAs: [...typedAs] })) };
  }
}
