import { Readable } from 'node:stream';
import { Controller, Delete, Get, Headers, Param, Query, Res } from '@nestjs/common';
import type { FastifyReply } from 'fastify';
import { z } from 'zod';
import { parseInput } from '#libs/casebook/index.js';
import { CaseFilter, type CaseSummary, Deleted, Id, text } from '#libs/contracts/index.js';
import { Call, Caller } from '../http/call.js';
import { Operation } from '../http/operation.js';
import { csvLines } from './csv-lines.js';

const Passphrase = z.strictObject({ 'export-passphrase': text(200).min(12, 'must have at least 12 characters').optional() });
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

@Controller('v1')
export class LeavingController {
  @Get('export')
  @Operation({
    id: 'exportOrganisation',
    summary:
      'Everything the organisation has, as NDJSON; the first line is an ExportHead. Export-Passphrase takes the key of the hashes along',
    permission: 'organisation:export',
    reply: z.string(),
    replyType: 'application/x-ndjson',
  })
  exportOrganisation(@Caller() call: Call, @Headers('export-passphrase') given: string | undefined, @Res() reply: FastifyReply) {
    const { 'export-passphrase': passphrase } = parseInput(Passphrase, given === undefined ? {} : { 'export-passphrase': given });
    const lines = call.casebook.leaving.exportAll(call.actor, passphrase ?? null);
    reply
      .header('content-type', 'application/x-ndjson')
      .header('content-disposition', 'attachment; filename="coolback-export.ndjson"')
      .send(Readable.from(lines, { objectMode: false, highWaterMark: 65_536 }));
  }

  @Get('export/cases.csv')
  @Operation({
    id: 'exportCases',
    summary: 'The list of cases as CSV, whole',
    permission: 'cases:read',
    query: CaseFilter,
    reply: z.string(),
    replyType: 'text/csv',
  })
  async exportCases(@Caller() call: Call, @Query({ schema: CaseFilter }) filter: CaseFilter, @Res() reply: FastifyReply) {
    // The first page is asked before the answer begins, so that a refusal is a problem document.
    await call.casebook.cases.listCases(call.actor, filter, { first: 1 });
    reply
      .header('content-type', 'text/csv; charset=utf-8')
      .header('content-disposition', 'attachment; filename="cases.csv"')
      .send(
        Readable.from(csvLines(call.casebook.leaving.allCases(call.actor, filter), CASE_COLUMNS), {
          objectMode: false,
          highWaterMark: 65_536,
        }),
      );
  }

  @Delete('vehicles/:id')
  @Operation({
    id: 'deleteVehicle',
    summary: 'Forget a vehicle: hashes, sightings, and which cases were its',
    permission: 'vehicles:delete',
    params: { id: Id },
    reply: Deleted,
  })
  deleteVehicle(@Caller() call: Call, @Param('id', { schema: Id }) id: string) {
    return call.casebook.leaving.deleteVehicle(call.actor, id);
  }
}
