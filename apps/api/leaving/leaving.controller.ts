import { Readable } from 'node:stream';
import { Controller, Delete, Get, Headers, Param, Res } from '@nestjs/common';
import type { FastifyReply } from 'fastify';
import { z } from 'zod';
import { parseInput } from '#libs/casebook/index.js';
import { Deleted, Id, text } from '#libs/contracts/index.js';
import { Call, Caller } from '../http/call.js';
import { Operation } from '../http/operation.js';

const Passphrase = z.strictObject({ 'export-passphrase': text(200).min(12, 'must have at least 12 characters').optional() });

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
