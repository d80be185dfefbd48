import { Mutation, Query, Resolver } from '@nestjs/graphql';
import {
  Cylinder,
  CylinderPatch,
  Deleted,
  Entry,
  EntryFilter,
  EntryPatch,
  HoldingsFilter,
  LedgerQuestion,
  Machine,
  MachinePatch,
  NewCylinder,
  NewEntry,
  NewMachine,
  RefrigerantLedger,
} from '#libs/contracts/index.js';
import { After, ExpectedVersion, First, type GraphCall, GraphCaller, IdArg, Input, OptionalInput } from '../graphql/arguments.js';
import { objectTypeOf } from '../graphql/derive.js';
import { CylinderPage, EntryPage, MachinePage } from './ledger.controller.js';

const MachineType = objectTypeOf(Machine);
const CylinderType = objectTypeOf(Cylinder);
const EntryType = objectTypeOf(Entry);
const MachinePageType = objectTypeOf(MachinePage);
const CylinderPageType = objectTypeOf(CylinderPage);
const EntryPageType = objectTypeOf(EntryPage);
const DeletedType = objectTypeOf(Deleted);
const RefrigerantLedgerType = objectTypeOf(RefrigerantLedger);

@Resolver()
export class LedgerResolver {
  @Query(() => RefrigerantLedgerType)
  refrigerantLedger(@GraphCaller() call: GraphCall, @OptionalInput('question', LedgerQuestion) question?: LedgerQuestion) {
    return call.casebook.ledger.refrigerantLedger(call.actor, question ?? {});
  }

  @Query(() => MachinePageType)
  machines(
    @GraphCaller() call: GraphCall,
    @OptionalInput('filter', HoldingsFilter) filter?: HoldingsFilter,
    @First() first?: number,
    @After() after?: string,
  ) {
    return call.casebook.ledger.listMachines(call.actor, filter ?? {}, { first, after });
  }

  @Mutation(() => MachineType)
  addMachine(@GraphCaller() call: GraphCall, @Input(NewMachine) input: NewMachine) {
    return call.casebook.ledger.addMachine(call.actor, input);
  }

  @Mutation(() => MachineType)
  changeMachine(
    @GraphCaller() call: GraphCall,
    @IdArg() id: string,
    @Input(MachinePatch) input: MachinePatch,
    @ExpectedVersion() version?: number,
  ) {
    return call.casebook.ledger.changeMachine(call.actor, id, input, version);
  }

  @Mutation(() => DeletedType)
  removeMachine(@GraphCaller() call: GraphCall, @IdArg() id: string) {
    return call.casebook.ledger.removeMachine(call.actor, id);
  }

  @Query(() => CylinderPageType)
  cylinders(
    @GraphCaller() call: GraphCall,
    @OptionalInput('filter', HoldingsFilter) filter?: HoldingsFilter,
    @First() first?: number,
    @After() after?: string,
  ) {
    return call.casebook.ledger.listCylinders(call.actor, filter ?? {}, { first, after });
  }

  @Mutation(() => CylinderType)
  addCylinder(@GraphCaller() call: GraphCall, @Input(NewCylinder) input: NewCylinder) {
    return call.casebook.ledger.addCylinder(call.actor, input);
  }

  @Mutation(() => CylinderType)
  changeCylinder(
    @GraphCaller() call: GraphCall,
    @IdArg() id: string,
    @Input(CylinderPatch) input: CylinderPatch,
    @ExpectedVersion() version?: number,
  ) {
    return call.casebook.ledger.changeCylinder(call.actor, id, input, version);
  }

  @Mutation(() => DeletedType)
  removeCylinder(@GraphCaller() call: GraphCall, @IdArg() id: string) {
    return call.casebook.ledger.removeCylinder(call.actor, id);
  }

  @Query(() => EntryPageType)
  refrigerantEntries(
    @GraphCaller() call: GraphCall,
    @OptionalInput('filter', EntryFilter) filter?: EntryFilter,
    @First() first?: number,
    @After() after?: string,
  ) {
    return call.casebook.ledger.listEntries(call.actor, filter ?? {}, { first, after });
  }

  @Mutation(() => EntryType)
  addRefrigerantEntry(@GraphCaller() call: GraphCall, @Input(NewEntry) input: NewEntry) {
    return call.casebook.ledger.addEntry(call.actor, input);
  }

  @Mutation(() => EntryType)
  changeRefrigerantEntry(
    @GraphCaller() call: GraphCall,
    @IdArg() id: string,
    @Input(EntryPatch) input: EntryPatch,
    @ExpectedVersion() version?: number,
  ) {
    return call.casebook.ledger.changeEntry(call.actor, id, input, version);
  }

  @Mutation(() => DeletedType)
  removeRefrigerantEntry(@GraphCaller() call: GraphCall, @IdArg() id: string) {
    return call.casebook.ledger.removeEntry(call.actor, id);
  }
}
