import { Body, Controller, Delete, Get, HttpCode, Param, Patch, Post, Query } from '@nestjs/common';
import { z } from 'zod';
import {
  Case,
  CaseClosure,
  CaseFilter,
  CasePatch,
  CaseSummaryPage,
  CaseVoiding,
  Diagnosis,
  Id,
  NewCase,
  NewFindings,
  NewProof,
  NewReadings,
  NewRepair,
  PageInput,
  Proof,
  ProposedReadings,
  Repair,
  RepairPatch,
  SimilarCases,
} from '#libs/contracts/index.js';
import { Call, Caller } from '../http/call.js';
import { Operation } from '../http/operation.js';
import {
  CASE_PATCH_EXAMPLE,
  CLOSURE_EXAMPLE,
  NEW_CASE_EXAMPLE,
  NEW_FINDINGS_EXAMPLE,
  NEW_PROOF_EXAMPLE,
  NEW_READINGS_EXAMPLE,
  NEW_REPAIR_EXAMPLE,
  REPAIR_PATCH_EXAMPLE,
  VOIDING_EXAMPLE,
} from './cases.examples.js';

const CaseQuery = CaseFilter.extend(PageInput.shape);
const SimilarQuery = z.strictObject({ limit: z.coerce.number().int().min(1).max(50).optional() });
export const DiagnosisList = z.strictObject({ data: z.array(Diagnosis) }).meta({ id: 'DiagnosisList' });
const byId = { id: Id };
const ofRepair = { id: Id, repairId: Id };

@Controller('v1/cases')
export class CasesController {
  @Get()
  @Operation({ id: 'listCases', summary: 'Cases, newest first', permission: 'cases:read', query: CaseQuery, reply: CaseSummaryPage })
  async listCases(@Caller() call: Call, @Query({ schema: CaseQuery }) { first, after, ...filter }: z.infer<typeof CaseQuery>) {
    return call.paged(await call.casebook.cases.listCases(call.actor, filter, { first, after }));
  }

  @Post()
  @Operation({
    id: 'openCase',
    summary: 'Open a case, or send a newer revision of an order',
    permission: 'cases:write',
    body: NewCase,
    reply: Case,
    status: 201,
    creates: true,
    example: NEW_CASE_EXAMPLE,
  })
  openCase(@Caller() call: Call, @Body({ schema: NewCase }) body: NewCase) {
    return call.create(
      (casebook) => casebook.cases.openCase(call.actor, body),
      ({ outcome, case: made }) => ({
        status: outcome === 'opened' ? 201 : 200,
        location: `/v1/cases/${made.id}`,
        version: made.version,
        body: made,
      }),
    );
  }

  @Get(':id')
  @Operation({ id: 'getCase', summary: 'One case whole', permission: 'cases:read', params: byId, reply: Case })
  async getCase(@Caller() call: Call, @Param('id', { schema: Id }) id: string) {
    return call.tagged(await call.casebook.cases.getCase(call.actor, id));
  }

  @Patch(':id')
  @Operation({
    id: 'amendCase',
    summary: 'Amend an open case',
    permission: 'cases:write',
    params: byId,
    body: CasePatch,
    example: CASE_PATCH_EXAMPLE,
    bodyType: 'application/merge-patch+json',
    ifMatch: 'required',
    reply: Case,
  })
  async amendCase(@Caller() call: Call, @Param('id', { schema: Id }) id: string, @Body({ schema: CasePatch }) body: CasePatch) {
    return call.tagged(await call.casebook.cases.amendCase(call.actor, id, body, call.expectedVersion));
  }

  @Post(':id/readings')
  @Operation({
    id: 'addReadings',
    summary: 'Add readings',
    permission: 'cases:write',
    params: byId,
    body: NewReadings,
    example: NEW_READINGS_EXAMPLE,
    reply: Case,
    status: 201,
    creates: true,
    ifMatch: 'optional',
  })
  addReadings(
    @Caller() call: Call,
    @Param('id', { schema: Id }) id: string,
    @Body({ schema: NewReadings }) body: z.infer<typeof NewReadings>,
  ) {
    const version = call.expectedVersion;
    return call.create(
      (casebook) => casebook.cases.addReadings(call.actor, id, body.readings, version),
      (changed) => ({ version: changed.version }),
    );
  }

  @Post(':id/findings')
  @Operation({
    id: 'addFindings',
    summary: 'Add findings',
    permission: 'cases:write',
    params: byId,
    body: NewFindings,
    example: NEW_FINDINGS_EXAMPLE,
    reply: Case,
    status: 201,
    creates: true,
    ifMatch: 'optional',
  })
  addFindings(
    @Caller() call: Call,
    @Param('id', { schema: Id }) id: string,
    @Body({ schema: NewFindings }) body: z.infer<typeof NewFindings>,
  ) {
    const version = call.expectedVersion;
    return call.create(
      (casebook) => casebook.cases.addFindings(call.actor, id, body.findings, version),
      (changed) => ({ version: changed.version }),
    );
  }

  @Post(':id/diagnoses')
  @Operation({
    id: 'diagnoseCase',
    summary: 'Run the engine on the latest evidence and store its answer',
    permission: 'diagnoses:run',
    params: byId,
    reply: Diagnosis,
    status: 201,
    creates: true,
  })
  diagnoseCase(@Caller() call: Call, @Param('id', { schema: Id }) id: string) {
    return call.create(
      (casebook) => casebook.diagnosis.diagnoseCase(call.actor, id),
      () => ({}),
    );
  }

  @Get(':id/diagnoses')
  @Operation({
    id: 'listDiagnoses',
    summary: 'Answers of the engine to this case, newest first',
    permission: 'cases:read',
    params: byId,
    reply: DiagnosisList,
  })
  async listDiagnoses(@Caller() call: Call, @Param('id', { schema: Id }) id: string) {
    return { data: await call.casebook.diagnosis.listDiagnoses(call.actor, id) };
  }

  @Post(':id/proofs')
  @Operation({
    id: 'recordProof',
    summary: 'Record the cause as it was established',
    permission: 'cases:write',
    params: byId,
    body: NewProof,
    example: NEW_PROOF_EXAMPLE,
    reply: Proof,
    status: 201,
    creates: true,
  })
  recordProof(@Caller() call: Call, @Param('id', { schema: Id }) id: string, @Body({ schema: NewProof }) body: NewProof) {
    return call.create(
      (casebook) => casebook.repairs.recordProof(call.actor, id, body),
      () => ({}),
    );
  }

  @Post(':id/repairs')
  @Operation({
    id: 'recordRepair',
    summary: 'Record a repair; its episode opens',
    permission: 'cases:write',
    params: byId,
    body: NewRepair,
    example: NEW_REPAIR_EXAMPLE,
    reply: Repair,
    status: 201,
    creates: true,
  })
  recordRepair(@Caller() call: Call, @Param('id', { schema: Id }) id: string, @Body({ schema: NewRepair }) body: NewRepair) {
    return call.create(
      (casebook) => casebook.repairs.recordRepair(call.actor, id, body),
      () => ({}),
    );
  }

  @Patch(':id/repairs/:repairId')
  @Operation({
    id: 'correctRepair',
    summary: 'Correct a repair that was entered wrongly; what became of it is derived again',
    permission: 'cases:write',
    params: ofRepair,
    body: RepairPatch,
    example: REPAIR_PATCH_EXAMPLE,
    bodyType: 'application/merge-patch+json',
    ifMatch: 'required',
    reply: Case,
  })
  async correctRepair(
    @Caller() call: Call,
    @Param('id', { schema: Id }) id: string,
    @Param('repairId', { schema: Id }) repairId: string,
    @Body({ schema: RepairPatch }) body: RepairPatch,
  ) {
    return call.tagged(await call.casebook.repairs.correctRepair(call.actor, id, repairId, body, call.expectedVersion));
  }

  @Delete(':id/repairs/:repairId')
  @Operation({
    id: 'removeRepair',
    summary: 'Delete a repair that was never done; its episode goes with it',
    permission: 'cases:write',
    params: ofRepair,
    ifMatch: 'required',
    reply: Case,
  })
  async removeRepair(@Caller() call: Call, @Param('id', { schema: Id }) id: string, @Param('repairId', { schema: Id }) repairId: string) {
    return call.tagged(await call.casebook.repairs.removeRepair(call.actor, id, repairId, call.expectedVersion));
  }

  @Post(':id/closure')
  @HttpCode(200)
  @Operation({
    id: 'closeCase',
    summary: 'Close a case',
    permission: 'cases:write',
    params: byId,
    body: CaseClosure,
    example: CLOSURE_EXAMPLE,
    ifMatch: 'required',
    reply: Case,
  })
  async closeCase(@Caller() call: Call, @Param('id', { schema: Id }) id: string, @Body({ schema: CaseClosure }) body: CaseClosure) {
    return call.tagged(await call.casebook.cases.closeCase(call.actor, id, body, call.expectedVersion));
  }

  @Post(':id/voiding')
  @HttpCode(200)
  @Operation({
    id: 'voidCase',
    summary: 'Take a case out of every count',
    permission: 'cases:write',
    params: byId,
    body: CaseVoiding,
    example: VOIDING_EXAMPLE,
    ifMatch: 'required',
    reply: Case,
  })
  async voidCase(
    @Caller() call: Call,
    @Param('id', { schema: Id }) id: string,
    @Body({ schema: CaseVoiding }) body: z.infer<typeof CaseVoiding>,
  ) {
    return call.tagged(await call.casebook.cases.voidCase(call.actor, id, body.reason, call.expectedVersion));
  }

  @Get(':id/proposed-readings')
  @Operation({
    id: 'proposeReadings',
    summary: 'Readings found in what was written into the case; none is stored until it is added',
    permission: 'cases:read',
    params: byId,
    reply: ProposedReadings,
  })
  async proposeReadings(@Caller() call: Call, @Param('id', { schema: Id }) id: string) {
    return { data: await call.casebook.cases.proposeReadings(call.actor, id) };
  }

  @Get(':id/similar')
  @Operation({
    id: 'similarToCase',
    summary: 'Past cases like this one, and how they ended',
    permission: 'cases:read',
    params: byId,
    query: SimilarQuery,
    reply: SimilarCases,
  })
  similarToCase(
    @Caller() call: Call,
    @Param('id', { schema: Id }) id: string,
    @Query({ schema: SimilarQuery }) query: z.infer<typeof SimilarQuery>,
  ) {
    return call.casebook.history.similarToCase(call.actor, id, query.limit);
  }
}
