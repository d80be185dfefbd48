import { Body, Controller, Get, HttpCode, Post, Query } from '@nestjs/common';
import { z } from 'zod';
import {
  BoardQuestion,
  ComparisonAnswer,
  ComparisonQuestion,
  Episode,
  EpisodeGroup,
  GroupedQuestion,
  GroupedReturns,
  PageInput,
  pageOf,
  RecurrenceBoard,
  ReturnAnswer,
  ReturnQuestion,
} from '#libs/contracts/index.js';
import { Call, Caller } from '../http/call.js';
import { Operation } from '../http/operation.js';
import { COMPARISON_EXAMPLE } from './outcomes.examples.js';

export const EpisodePage = pageOf(Episode, 'EpisodePage');
/** In an address, horizons are one list with commas: `horizons=250,500`. */
const ReturnQuery = ReturnQuestion.extend({
  horizons: z
    .string()
    .max(200)
    .transform((list) => list.split(',').map(Number))
    .pipe(ReturnQuestion.shape.horizons.unwrap())
    .optional(),
});
/** In an address, dimensions are one list with commas: `by=family,intent`. */
const GroupedQuery = GroupedQuestion.extend({
  by: z
    .string()
    .max(200)
    .transform((list) => list.split(','))
    .pipe(GroupedQuestion.shape.by),
});
const EpisodeQuery = EpisodeGroup.extend(PageInput.shape);

@Controller('v1/outcomes')
export class OutcomesController {
  @Get('return-rates')
  @Operation({
    id: 'returnRates',
    summary: 'How often a repair came back, by horizon',
    permission: 'outcomes:read',
    query: ReturnQuery,
    reply: ReturnAnswer,
  })
  returnRates(@Caller() call: Call, @Query({ schema: ReturnQuery }) query: z.infer<typeof ReturnQuery>) {
    return call.casebook.outcomes.returnRates(call.actor, query);
  }

  @Get('grouped-returns')
  @Operation({
    id: 'groupedReturns',
    summary: 'Return rates told apart by up to three of platform, fault, repair, part, shop, climate, season, period and build',
    permission: 'outcomes:read',
    query: GroupedQuery,
    queryExample: { by: 'family,intent' },
    reply: GroupedReturns,
  })
  groupedReturns(@Caller() call: Call, @Query({ schema: GroupedQuery }) query: z.infer<typeof GroupedQuery>) {
    return call.casebook.outcomes.groupedReturns(call.actor, query);
  }

  @Post('comparisons')
  @HttpCode(200)
  @Operation({
    id: 'compareRepairs',
    summary: 'Two groups of repairs side by side, with a log-rank test',
    permission: 'outcomes:read',
    body: ComparisonQuestion,
    example: COMPARISON_EXAMPLE,
    reply: ComparisonAnswer,
  })
  compareRepairs(@Caller() call: Call, @Body({ schema: ComparisonQuestion }) body: ComparisonQuestion) {
    return call.casebook.outcomes.compareRepairs(call.actor, body);
  }

  @Get('recurrences')
  @Operation({
    id: 'recurrences',
    summary: 'What recurs in the region, by platform, fault and kind of repair',
    permission: 'outcomes:read',
    query: BoardQuestion,
    reply: RecurrenceBoard,
  })
  recurrences(@Caller() call: Call, @Query({ schema: BoardQuestion }) query: BoardQuestion) {
    return call.casebook.boards.recurrences(call.actor, query);
  }

  @Get('episodes')
  @Operation({
    id: 'listEpisodes',
    summary: 'The repairs behind a figure, and how each ended',
    permission: 'outcomes:read',
    query: EpisodeQuery,
    reply: EpisodePage,
  })
  async listEpisodes(@Caller() call: Call, @Query({ schema: EpisodeQuery }) { first, after, ...group }: z.infer<typeof EpisodeQuery>) {
    return call.paged(await call.casebook.outcomes.listEpisodes(call.actor, group, { first, after }));
  }
}
