import { Readable } from 'node:stream';
import { Controller, Get, Query, Res } from '@nestjs/common';
import type { FastifyReply } from 'fastify';
import { z } from 'zod';
import { everyRow } from '#libs/casebook/index.js';
import {
  type AuditEvent,
  CaseFilter,
  type CaseSummary,
  type Episode,
  EpisodeGroup,
  Id,
  type Page,
  type PageInput,
} from '#libs/contracts/index.js';
import { Call, Caller } from '../http/call.js';
import { Operation } from '../http/operation.js';
import { csvLines } from './csv-lines.js';

const CASE_COLUMNS = [
  'id',
  'shopId',
  'vehicleId',
  'platformId',
  'status',
  'complaint',
  'openedAt',
  'closedAt',
  'leadingFault',
  'leadingProbability',
  'provedFaults',
  'odometerKm',
] as const satisfies readonly (keyof CaseSummary)[];
const EPISODE_COLUMNS = [
  'id',
  'caseId',
  'vehicleId',
  'platformId',
  'shopId',
  'fault',
  'action',
  'intent',
  'startedOn',
  'end',
  'endedOn',
  'endCaseId',
  'endShopId',
  'days',
  'degreeDays',
  'odometerKm',
] as const satisfies readonly (keyof Episode)[];
const AUDIT_COLUMNS = [
  'id',
  'at',
  'credentialId',
  'memberId',
  'action',
  'subjectType',
  'subjectId',
  'requestId',
  'change',
] as const satisfies readonly (keyof AuditEvent)[];
const AuditFilter = z.strictObject({ subjectId: Id.optional() });
type AuditFilter = z.infer<typeof AuditFilter>;

/** Whole lists as files for a spreadsheet. */
@Controller('v1/export')
export class TablesController {
  @Get('cases.csv')
  @Operation({
    id: 'exportCases',
    summary: 'The list of cases as CSV, whole',
    permission: 'cases:read',
    query: CaseFilter,
    reply: z.string(),
    replyType: 'text/csv',
  })
  exportCases(@Caller() call: Call, @Query({ schema: CaseFilter }) filter: CaseFilter, @Res() reply: FastifyReply) {
    return sendCsv(reply, 'cases', CASE_COLUMNS, (page) => call.casebook.cases.listCases(call.actor, filter, page));
  }

  @Get('episodes.csv')
  @Operation({
    id: 'exportEpisodes',
    summary: 'Repairs and how each ended as CSV, whole',
    permission: 'outcomes:read',
    query: EpisodeGroup,
    reply: z.string(),
    replyType: 'text/csv',
  })
  exportEpisodes(@Caller() call: Call, @Query({ schema: EpisodeGroup }) group: EpisodeGroup, @Res() reply: FastifyReply) {
    return sendCsv(reply, 'episodes', EPISODE_COLUMNS, (page) => call.casebook.outcomes.listEpisodes(call.actor, group, page));
  }

  @Get('audit.csv')
  @Operation({
    id: 'exportAudit',
    summary: 'The audit trail as CSV, whole, newest first',
    permission: 'audit:read',
    query: AuditFilter,
    reply: z.string(),
    replyType: 'text/csv',
  })
  exportAudit(@Caller() call: Call, @Query({ schema: AuditFilter }) filter: AuditFilter, @Res() reply: FastifyReply) {
    return sendCsv(reply, 'audit', AUDIT_COLUMNS, (page) => call.casebook.audit.listAudit(call.actor, { ...filter, ...page }));
  }
}

/** Answers with every page of a list, one after the other. The first is asked before the answer begins, so that a refusal is a problem document. */
async function sendCsv<T>(
  reply: FastifyReply,
  name: string,
  columns: readonly (keyof T & string)[],
  list: (page: PageInput) => Promise<Page<T>>,
): Promise<void> {
  await list({ first: 1 });
  reply
    .header('content-type', 'text/csv; charset=utf-8')
    .header('content-disposition', `attachment; filename="${name}.csv"`)
    .send(Readable.from(csvLines(everyRow(list), columns), { objectMode: false, highWaterMark: 65_536 }));
}
