import { Readable } from 'node:stream';
import { Body, Controller, Get, HttpCode, Inject, Param, Post, Query, Req, Res } from '@nestjs/common';
import type { FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { csvTemplate } from '#libs/casebook/index.js';
import {
  Id,
  ImportQuery,
  ImportRow,
  ImportRowPage,
  ImportRun,
  ImportRunPage,
  LineNumber,
  NewSavedMapping,
  PageInput,
  RowCorrection,
  RowFilter,
  SavedMapping,
  SavedMappingList,
} from '#libs/contracts/index.js';
import { Call, Caller } from '../http/call.js';
import { OpenToAll } from '../http/caller.guard.js';
import { sendEvents } from '../http/event-stream.js';
import { fileOf } from '../http/file-body.js';
import { Readiness } from '../http/health.controller.js';
import { Operation } from '../http/operation.js';
import { errorFile } from './error-file.js';
import { IMPORT_LINE_EXAMPLE, NEW_SAVED_MAPPING_EXAMPLE, ROW_CORRECTION_EXAMPLE } from './imports.examples.js';

const RowQuery = RowFilter.extend(PageInput.shape);
const ErrorFileQuery = z.strictObject({ format: z.enum(['ndjson', 'csv']).optional().describe('ndjson when left out') });
type ErrorFileQuery = z.infer<typeof ErrorFileQuery>;
const byId = { id: Id };

@Controller('v1/imports')
export class ImportsController {
  constructor(@Inject(Readiness) private readonly readiness: Readiness) {}

  @Post()
  @HttpCode(202)
  @Operation({
    id: 'importCases',
    summary: 'Send a file of cases: NDJSON or CSV, plain or gzip. The worker takes it from there',
    permission: 'cases:write',
    query: ImportQuery,
    file: true,
    example: IMPORT_LINE_EXAMPLE,
    reply: ImportRun,
    status: 202,
    creates: true,
  })
  async importCases(
    @Caller() call: Call,
    @Query({ schema: ImportQuery }) query: ImportQuery,
    @Req() request: FastifyRequest,
    @Res({ passthrough: true }) reply: FastifyReply,
  ) {
    const requestKey = call.requestKey;
    const { run, replayed } = await call.casebook.imports.receive(call.actor, { ...fileOf(request), requestKey, query });
    if (replayed) reply.header('idempotency-replayed', 'true');
    reply.header('location', `/v1/imports/${run.id}`).header('retry-after', '1');
    return run;
  }

  @Get()
  @Operation({ id: 'listImports', summary: 'Imports, newest first', permission: 'cases:write', query: PageInput, reply: ImportRunPage })
  async listImports(@Caller() call: Call, @Query({ schema: PageInput }) page: PageInput) {
    return call.paged(await call.casebook.imports.listImports(call.actor, page));
  }

  @Get('template.csv')
  @OpenToAll()
  @Operation({
    id: 'importTemplate',
    summary: 'Headings that need no mapping, and one worked line',
    reply: z.string(),
    replyType: 'text/csv',
  })
  template(@Res() reply: FastifyReply) {
    reply
      .header('content-type', 'text/csv; charset=utf-8')
      .header('content-disposition', 'attachment; filename="coolback-template.csv"')
      .send(csvTemplate());
  }

  @Post('mappings')
  @Operation({
    id: 'saveMapping',
    summary: 'Save how the columns of a file become cases; the same name replaces',
    permission: 'cases:write',
    body: NewSavedMapping,
    example: NEW_SAVED_MAPPING_EXAMPLE,
    reply: SavedMapping,
    status: 201,
    creates: true,
  })
  saveMapping(@Caller() call: Call, @Body({ schema: NewSavedMapping }) body: NewSavedMapping) {
    return call.create(
      (casebook) => casebook.imports.saveMapping(call.actor, body),
      () => ({}),
    );
  }

  @Get('mappings')
  @Operation({ id: 'listMappings', summary: 'Saved mappings', permission: 'cases:write', reply: SavedMappingList })
  async listMappings(@Caller() call: Call) {
    return { data: await call.casebook.imports.listMappings(call.actor) };
  }

  @Get(':id')
  @Operation({ id: 'getImport', summary: 'How far an import is', permission: 'cases:write', params: byId, reply: ImportRun })
  getImport(@Caller() call: Call, @Param('id', { schema: Id }) id: string) {
    return call.casebook.imports.getImport(call.actor, id);
  }

  @Get(':id/events')
  @Operation({
    id: 'importEvents',
    summary: 'Progress of an import as server-sent events; the data of each is an ImportRun',
    permission: 'cases:write',
    params: byId,
    reply: z.string(),
    replyType: 'text/event-stream',
  })
  async events(@Caller() call: Call, @Param('id', { schema: Id }) id: string, @Res() reply: FastifyReply) {
    await call.casebook.imports.getImport(call.actor, id);
    const progress = call.casebook.imports.progress(call.actor, id, () => !this.readiness.draining);
    sendEvents(reply, mapped(progress));
  }

  @Get(':id/rows')
  @Operation({
    id: 'listImportRows',
    summary: 'What became of each row, by line',
    permission: 'cases:write',
    params: byId,
    query: RowQuery,
    reply: ImportRowPage,
  })
  async listRows(
    @Caller() call: Call,
    @Param('id', { schema: Id }) id: string,
    @Query({ schema: RowQuery }) { first, after, ...filter }: z.infer<typeof RowQuery>,
  ) {
    return call.paged(await call.casebook.imports.listRows(call.actor, id, filter, { first, after }));
  }

  @Get(':id/errors')
  @Operation({
    id: 'importErrors',
    summary: 'The rejected rows as a file: what was sent, and why each was refused',
    permission: 'cases:write',
    params: byId,
    query: ErrorFileQuery,
    reply: z.string(),
    replyType: 'application/x-ndjson',
  })
  async errors(
    @Caller() call: Call,
    @Param('id', { schema: Id }) id: string,
    @Query({ schema: ErrorFileQuery }) { format = 'ndjson' }: ErrorFileQuery,
    @Res() reply: FastifyReply,
  ) {
    const { columns } = await call.casebook.imports.getImport(call.actor, id);
    reply
      .header('content-type', format === 'csv' ? 'text/csv; charset=utf-8' : 'application/x-ndjson')
      .header('content-disposition', `attachment; filename="rejected-${id}.${format}"`)
      .send(Readable.from(errorFile(call.casebook.imports.rejectedRows(call.actor, id), format, columns)));
  }

  @Post(':id/rows/:line/correction')
  @HttpCode(200)
  @Operation({
    id: 'correctImportRow',
    summary: 'Try a rejected row again: as it was, with other cells, or as a case',
    permission: 'cases:write',
    params: { id: Id, line: LineNumber },
    body: RowCorrection,
    example: ROW_CORRECTION_EXAMPLE,
    reply: ImportRow,
    creates: true,
  })
  correctRow(
    @Caller() call: Call,
    @Param('id', { schema: Id }) id: string,
    @Param('line', { schema: LineNumber }) line: number,
    @Body({ schema: RowCorrection }) body: RowCorrection,
  ) {
    return call.create(
      (casebook) => casebook.imports.correctRow(call.actor, id, line, body),
      () => ({ status: 200 }),
    );
  }

  @Post(':id/replay')
  @HttpCode(202)
  @Operation({
    id: 'replayImport',
    summary: 'Try every rejected row again, with the mapping as it is saved now',
    permission: 'cases:write',
    params: byId,
    reply: ImportRun,
    status: 202,
    creates: true,
  })
  replay(@Caller() call: Call, @Param('id', { schema: Id }) id: string) {
    return call.create(
      (casebook) => casebook.imports.replayRejected(call.actor, id),
      (run) => ({ status: 202, location: `/v1/imports/${run.id}` }),
    );
  }
}

async function* mapped(progress: AsyncGenerator<ImportRun | null>) {
  for await (const run of progress) yield run === null ? null : { event: run.state, data: run };
}
