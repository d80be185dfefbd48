import { Query, Resolver } from '@nestjs/graphql';
import { CircuitCycles, DiagnosisQuestion, SaturationCurve, SaturationQuestion } from '#libs/contracts/index.js';
import { type GraphCall, GraphCaller, IdArg, Input } from '../graphql/arguments.js';
import { objectTypeOf } from '../graphql/derive.js';

const CircuitCyclesType = objectTypeOf(CircuitCycles);
const SaturationCurveType = objectTypeOf(SaturationCurve);

@Resolver()
export class CycleResolver {
  @Query(() => SaturationCurveType)
  saturationCurve(@GraphCaller() call: GraphCall, @Input(SaturationQuestion) input: SaturationQuestion) {
    return call.casebook.cycles.saturation(input.refrigerant);
  }

  @Query(() => CircuitCyclesType)
  cyclesOfReadings(@GraphCaller() call: GraphCall, @Input(DiagnosisQuestion) input: DiagnosisQuestion) {
    return call.casebook.cycles.cyclesOfReadings(call.actor, input);
  }

  @Query(() => CircuitCyclesType)
  cyclesOfCase(@GraphCaller() call: GraphCall, @IdArg('caseId') caseId: string) {
    return call.casebook.cycles.cyclesOfCase(call.actor, caseId);
  }
}
