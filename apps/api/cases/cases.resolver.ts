import { Args, Int, Mutation, Query, Resolver } from '@nestjs/graphql';
import type { z } from 'zod';
import {
  Case,
  CaseClosure,
  CaseFilter,
  CasePatch,
  CaseSummaryPage,
  CaseVoiding,
  Diagnosis,
  NewCase,
  NewFindings,
  NewProof,
  NewReadings,
  NewRepair,
  Proof,
  ProposedReadings,
  Repair,
  RepairPatch,
  SimilarCases,
} from '#libs/contracts/index.js';
import { After, ExpectedVersion, First, type GraphCall, GraphCaller, IdArg, Input, OptionalInput } from '../graphql/arguments.js';
import { objectTypeOf } from '../graphql/derive.js';

const CaseType = objectTypeOf(Case);
const CasePageType = objectTypeOf(CaseSummaryPage);
const DiagnosisType = objectTypeOf(Diagnosis);
const ProofType = objectTypeOf(Proof);
const RepairType = objectTypeOf(Repair);
const ProposedReadingsType = objectTypeOf(ProposedReadings);
const SimilarCasesType = objectTypeOf(SimilarCases);

@Resolver()
export class CasesResolver {
  @Query(() => CasePageType)
  cases(
    @GraphCaller() call: GraphCall,
    @OptionalInput('filter', CaseFilter) filter?: CaseFilter,
    @First() first?: number,
    @After() after?: string,
  ) {
    return call.casebook.cases.listCases(call.actor, filter ?? {}, { first, after });
  }

  @Query(() => CaseType)
  case(@GraphCaller() call: GraphCall, @IdArg() id: string) {
    return call.casebook.cases.getCase(call.actor, id);
  }

  @Mutation(() => CaseType)
  async openCase(@GraphCaller() call: GraphCall, @Input(NewCase) input: NewCase) {
    return (await call.casebook.cases.openCase(call.actor, input)).case;
  }

  @Mutation(() => CaseType)
  amendCase(@GraphCaller() call: GraphCall, @IdArg() id: string, @Input(CasePatch) input: CasePatch, @ExpectedVersion() version?: number) {
    return call.casebook.cases.amendCase(call.actor, id, input, version);
  }

  @Mutation(() => CaseType)
  addReadings(
    @GraphCaller() call: GraphCall,
    @IdArg() id: string,
    @Input(NewReadings) input: z.infer<typeof NewReadings>,
    @ExpectedVersion() version?: number,
  ) {
    return call.casebook.cases.addReadings(call.actor, id, input.readings, version);
  }

  @Mutation(() => CaseType)
  addFindings(
    @GraphCaller() call: GraphCall,
    @IdArg() id: string,
    @Input(NewFindings) input: z.infer<typeof NewFindings>,
    @ExpectedVersion() version?: number,
  ) {
    return call.casebook.cases.addFindings(call.actor, id, input.findings, version);
  }

  @Mutation(() => DiagnosisType)
  diagnoseCase(@GraphCaller() call: GraphCall, @IdArg() id: string) {
    return call.casebook.diagnosis.diagnoseCase(call.actor, id);
  }

  @Query(() => [DiagnosisType])
  diagnoses(@GraphCaller() call: GraphCall, @IdArg('caseId') caseId: string) {
    return call.casebook.diagnosis.listDiagnoses(call.actor, caseId);
  }

  @Mutation(() => ProofType)
  recordProof(@GraphCaller() call: GraphCall, @IdArg('caseId') caseId: string, @Input(NewProof) input: NewProof) {
    return call.casebook.repairs.recordProof(call.actor, caseId, input);
  }

  @Mutation(() => RepairType)
  recordRepair(@GraphCaller() call: GraphCall, @IdArg('caseId') caseId: string, @Input(NewRepair) input: NewRepair) {
    return call.casebook.repairs.recordRepair(call.actor, caseId, input);
  }

  @Mutation(() => CaseType)
  correctRepair(
    @GraphCaller() call: GraphCall,
    @IdArg('caseId') caseId: string,
    @IdArg() id: string,
    @Input(RepairPatch) input: RepairPatch,
    @ExpectedVersion() version?: number,
  ) {
    return call.casebook.repairs.correctRepair(call.actor, caseId, id, input, version);
  }

  @Mutation(() => CaseType)
  removeRepair(@GraphCaller() call: GraphCall, @IdArg('caseId') caseId: string, @IdArg() id: string, @ExpectedVersion() version?: number) {
    return call.casebook.repairs.removeRepair(call.actor, caseId, id, version);
  }

  @Mutation(() => CaseType)
  closeCase(
    @GraphCaller() call: GraphCall,
    @IdArg() id: string,
    @Input(CaseClosure) input: CaseClosure,
    @ExpectedVersion() version?: number,
  ) {
    return call.casebook.cases.closeCase(call.actor, id, input, version);
  }

  @Mutation(() => CaseType)
  voidCase(
    @GraphCaller() call: GraphCall,
    @IdArg() id: string,
    @Input(CaseVoiding) input: z.infer<typeof CaseVoiding>,
    @ExpectedVersion() version?: number,
  ) {
    return call.casebook.cases.voidCase(call.actor, id, input.reason, version);
  }

  @Query(() => ProposedReadingsType)
  async proposedReadings(@GraphCaller() call: GraphCall, @IdArg('caseId') caseId: string) {
    return { data: await call.casebook.cases.proposeReadings(call.actor, caseId) };
  }

  @Query(() => SimilarCasesType)
  similarToCase(
    @GraphCaller() call: GraphCall,
    @IdArg('caseId') caseId: string,
    @Args('limit', { type: () => Int, nullable: true }) limit?: number,
  ) {
    return call.casebook.history.similarToCase(call.actor, caseId, limit ?? undefined);
  }
}
