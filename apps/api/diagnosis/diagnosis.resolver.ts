import { Query, Resolver } from '@nestjs/graphql';
import { DiagnosisQuestion, DiagnosisResult, FaultEntry, SimilarCases, SimilarQuestion } from '#libs/contracts/index.js';
import { UNIT_CODES } from '#libs/units/index.js';
import { type GraphCall, GraphCaller, Input } from '../graphql/arguments.js';
import { objectTypeOf } from '../graphql/derive.js';
import { UnitEntry } from './diagnosis.controller.js';

const DiagnosisResultType = objectTypeOf(DiagnosisResult);
const FaultEntryType = objectTypeOf(FaultEntry);
const SimilarCasesType = objectTypeOf(SimilarCases);
const UnitEntryType = objectTypeOf(UnitEntry);

@Resolver()
export class DiagnosisResolver {
  @Query(() => DiagnosisResultType)
  diagnoseReadings(@GraphCaller() call: GraphCall, @Input(DiagnosisQuestion) input: DiagnosisQuestion) {
    return call.casebook.diagnosis.diagnoseReadings(call.actor, input);
  }

  @Query(() => SimilarCasesType)
  similarToReadings(@GraphCaller() call: GraphCall, @Input(SimilarQuestion) input: SimilarQuestion) {
    return call.casebook.history.similarToReadings(call.actor, input);
  }

  @Query(() => [FaultEntryType])
  faults(@GraphCaller() call: GraphCall) {
    return call.casebook.diagnosis.listFaults();
  }

  @Query(() => [UnitEntryType])
  units() {
    return UNIT_CODES;
  }
}
