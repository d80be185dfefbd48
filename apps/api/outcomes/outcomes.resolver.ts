import { Query, Resolver } from '@nestjs/graphql';
import {
  BoardQuestion,
  ComparisonAnswer,
  ComparisonQuestion,
  EpisodeGroup,
  GroupedQuestion,
  GroupedReturns,
  RecurrenceBoard,
  ReturnAnswer,
  ReturnQuestion,
} from '#libs/contracts/index.js';
import { After, First, type GraphCall, GraphCaller, Input, OptionalInput } from '../graphql/arguments.js';
import { objectTypeOf } from '../graphql/derive.js';
import { EpisodePage } from './outcomes.controller.js';

const ReturnAnswerType = objectTypeOf(ReturnAnswer);
const GroupedReturnsType = objectTypeOf(GroupedReturns);
const ComparisonAnswerType = objectTypeOf(ComparisonAnswer);
const RecurrenceBoardType = objectTypeOf(RecurrenceBoard);
const EpisodePageType = objectTypeOf(EpisodePage);

@Resolver()
export class OutcomesResolver {
  @Query(() => ReturnAnswerType)
  returnRates(@GraphCaller() call: GraphCall, @Input(ReturnQuestion) input: ReturnQuestion) {
    return call.casebook.outcomes.returnRates(call.actor, input);
  }

  @Query(() => GroupedReturnsType)
  groupedReturns(@GraphCaller() call: GraphCall, @Input(GroupedQuestion) input: GroupedQuestion) {
    return call.casebook.outcomes.groupedReturns(call.actor, input);
  }

  @Query(() => ComparisonAnswerType)
  compareRepairs(@GraphCaller() call: GraphCall, @Input(ComparisonQuestion) input: ComparisonQuestion) {
    return call.casebook.outcomes.compareRepairs(call.actor, input);
  }

  @Query(() => RecurrenceBoardType)
  recurrences(@GraphCaller() call: GraphCall, @OptionalInput('question', BoardQuestion) question?: BoardQuestion) {
    return call.casebook.boards.recurrences(call.actor, question ?? {});
  }

  @Query(() => EpisodePageType)
  episodes(
    @GraphCaller() call: GraphCall,
    @OptionalInput('group', EpisodeGroup) group?: EpisodeGroup,
    @First() first?: number,
    @After() after?: string,
  ) {
    return call.casebook.outcomes.listEpisodes(call.actor, group ?? {}, { first, after });
  }
}
