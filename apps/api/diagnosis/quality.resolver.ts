import { Query, Resolver } from '@nestjs/graphql';
import { EngineQuality, JudgedCaseFilter, QualityQuestion } from '#libs/contracts/index.js';
import { After, First, type GraphCall, GraphCaller, OptionalInput } from '../graphql/arguments.js';
import { objectTypeOf } from '../graphql/derive.js';
import { JudgedCasePage } from './quality.controller.js';

const EngineQualityType = objectTypeOf(EngineQuality);
const JudgedCasePageType = objectTypeOf(JudgedCasePage);

@Resolver()
export class QualityResolver {
  @Query(() => EngineQualityType)
  engineQuality(@GraphCaller() call: GraphCall, @OptionalInput('question', QualityQuestion) question?: QualityQuestion) {
    return call.casebook.quality.engineQuality(call.actor, question ?? {});
  }

  @Query(() => JudgedCasePageType)
  judgedCases(
    @GraphCaller() call: GraphCall,
    @OptionalInput('filter', JudgedCaseFilter) filter?: JudgedCaseFilter,
    @First() first?: number,
    @After() after?: string,
  ) {
    return call.casebook.quality.listJudgedCases(call.actor, filter ?? {}, { first, after });
  }
}
