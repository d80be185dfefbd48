import { Body, Controller, Delete, Get, Param, Patch, Post, Query } from '@nestjs/common';
import { z } from 'zod';
import {
  Cylinder,
  CylinderPatch,
  Deleted,
  Entry,
  EntryFilter,
  EntryPatch,
  HoldingsFilter,
  Id,
  LedgerQuestion,
  Machine,
  MachinePatch,
  NewCylinder,
  NewEntry,
  NewMachine,
  PageInput,
  pageOf,
  RefrigerantLedger,
} from '#libs/contracts/index.js';
import { Call, Caller } from '../http/call.js';
import { Operation } from '../http/operation.js';
import {
  CYLINDER_PATCH_EXAMPLE,
  ENTRY_PATCH_EXAMPLE,
  MACHINE_PATCH_EXAMPLE,
  NEW_CYLINDER_EXAMPLE,
  NEW_ENTRY_EXAMPLE,
  NEW_MACHINE_EXAMPLE,
} from './ledger.examples.js';

export const MachinePage = pageOf(Machine, 'MachinePage');
export const CylinderPage = pageOf(Cylinder, 'CylinderPage');
export const EntryPage = pageOf(Entry, 'RefrigerantEntryPage');
const HoldingsQuery = HoldingsFilter.extend(PageInput.shape);
const EntryQuery = EntryFilter.extend(PageInput.shape);

@Controller('v1')
export class LedgerController {
  @Get('outcomes/refrigerant-ledger')
  @Operation({
    id: 'refrigerantLedger',
    summary: "Whether each shop's refrigerant adds up, month by month, with the error of its scales",
    permission: 'outcomes:read',
    query: LedgerQuestion,
    reply: RefrigerantLedger,
  })
  refrigerantLedger(@Caller() call: Call, @Query({ schema: LedgerQuestion }) query: LedgerQuestion) {
    return call.casebook.ledger.refrigerantLedger(call.actor, query);
  }

  @Get('machines')
  @Operation({
    id: 'listMachines',
    summary: 'Machines that recover and charge',
    permission: 'shops:read',
    query: HoldingsQuery,
    reply: MachinePage,
  })
  async listMachines(@Caller() call: Call, @Query({ schema: HoldingsQuery }) { first, after, ...filter }: z.infer<typeof HoldingsQuery>) {
    return call.paged(await call.casebook.ledger.listMachines(call.actor, filter, { first, after }));
  }

  @Post('machines')
  @Operation({
    id: 'addMachine',
    summary: 'Add a machine',
    permission: 'platforms:write',
    body: NewMachine,
    example: NEW_MACHINE_EXAMPLE,
    reply: Machine,
    status: 201,
    creates: true,
  })
  addMachine(@Caller() call: Call, @Body({ schema: NewMachine }) body: NewMachine) {
    return call.create(
      (casebook) => casebook.ledger.addMachine(call.actor, body),
      ({ version }) => ({ version }),
    );
  }

  @Patch('machines/:id')
  @Operation({
    id: 'changeMachine',
    summary: 'Change a machine: its scale, when it was checked, when it was retired',
    permission: 'platforms:write',
    params: { id: Id },
    body: MachinePatch,
    example: MACHINE_PATCH_EXAMPLE,
    bodyType: 'application/merge-patch+json',
    ifMatch: 'required',
    reply: Machine,
  })
  async changeMachine(@Caller() call: Call, @Param('id', { schema: Id }) id: string, @Body({ schema: MachinePatch }) body: MachinePatch) {
    return call.tagged(await call.casebook.ledger.changeMachine(call.actor, id, body, call.expectedVersion));
  }

  @Delete('machines/:id')
  @Operation({
    id: 'removeMachine',
    summary: 'Delete a machine that no entry and no repair names',
    permission: 'platforms:write',
    params: { id: Id },
    reply: Deleted,
  })
  removeMachine(@Caller() call: Call, @Param('id', { schema: Id }) id: string) {
    return call.casebook.ledger.removeMachine(call.actor, id);
  }

  @Get('cylinders')
  @Operation({
    id: 'listCylinders',
    summary: 'Cylinders of refrigerant',
    permission: 'shops:read',
    query: HoldingsQuery,
    reply: CylinderPage,
  })
  async listCylinders(@Caller() call: Call, @Query({ schema: HoldingsQuery }) { first, after, ...filter }: z.infer<typeof HoldingsQuery>) {
    return call.paged(await call.casebook.ledger.listCylinders(call.actor, filter, { first, after }));
  }

  @Post('cylinders')
  @Operation({
    id: 'addCylinder',
    summary: 'Add a cylinder',
    permission: 'platforms:write',
    body: NewCylinder,
    example: NEW_CYLINDER_EXAMPLE,
    reply: Cylinder,
    status: 201,
    creates: true,
  })
  addCylinder(@Caller() call: Call, @Body({ schema: NewCylinder }) body: NewCylinder) {
    return call.create(
      (casebook) => casebook.ledger.addCylinder(call.actor, body),
      ({ version }) => ({ version }),
    );
  }

  @Patch('cylinders/:id')
  @Operation({
    id: 'changeCylinder',
    summary: 'Change a cylinder',
    permission: 'platforms:write',
    params: { id: Id },
    body: CylinderPatch,
    example: CYLINDER_PATCH_EXAMPLE,
    bodyType: 'application/merge-patch+json',
    ifMatch: 'required',
    reply: Cylinder,
  })
  async changeCylinder(
    @Caller() call: Call,
    @Param('id', { schema: Id }) id: string,
    @Body({ schema: CylinderPatch }) body: CylinderPatch,
  ) {
    return call.tagged(await call.casebook.ledger.changeCylinder(call.actor, id, body, call.expectedVersion));
  }

  @Delete('cylinders/:id')
  @Operation({
    id: 'removeCylinder',
    summary: 'Delete a cylinder that no entry names',
    permission: 'platforms:write',
    params: { id: Id },
    reply: Deleted,
  })
  removeCylinder(@Caller() call: Call, @Param('id', { schema: Id }) id: string) {
    return call.casebook.ledger.removeCylinder(call.actor, id);
  }

  @Get('refrigerant-entries')
  @Operation({
    id: 'listRefrigerantEntries',
    summary: 'Refrigerant bought, sent out and counted, newest first',
    permission: 'shops:read',
    query: EntryQuery,
    reply: EntryPage,
  })
  async listEntries(@Caller() call: Call, @Query({ schema: EntryQuery }) { first, after, ...filter }: z.infer<typeof EntryQuery>) {
    return call.paged(await call.casebook.ledger.listEntries(call.actor, filter, { first, after }));
  }

  @Post('refrigerant-entries')
  @Operation({
    id: 'addRefrigerantEntry',
    summary: 'Record what was bought, sent out or counted',
    permission: 'refrigerant:write',
    body: NewEntry,
    example: NEW_ENTRY_EXAMPLE,
    reply: Entry,
    status: 201,
    creates: true,
  })
  addEntry(@Caller() call: Call, @Body({ schema: NewEntry }) body: NewEntry) {
    return call.create(
      (casebook) => casebook.ledger.addEntry(call.actor, body),
      ({ version }) => ({ version }),
    );
  }

  @Patch('refrigerant-entries/:id')
  @Operation({
    id: 'changeRefrigerantEntry',
    summary: 'Correct an entry',
    permission: 'refrigerant:write',
    params: { id: Id },
    body: EntryPatch,
    example: ENTRY_PATCH_EXAMPLE,
    bodyType: 'application/merge-patch+json',
    ifMatch: 'required',
    reply: Entry,
  })
  async changeEntry(@Caller() call: Call, @Param('id', { schema: Id }) id: string, @Body({ schema: EntryPatch }) body: EntryPatch) {
    return call.tagged(await call.casebook.ledger.changeEntry(call.actor, id, body, call.expectedVersion));
  }

  @Delete('refrigerant-entries/:id')
  @Operation({
    id: 'removeRefrigerantEntry',
    summary: 'Take an entry out of the books; the audit trail keeps it',
    permission: 'refrigerant:write',
    params: { id: Id },
    reply: Deleted,
  })
  removeEntry(@Caller() call: Call, @Param('id', { schema: Id }) id: string) {
    return call.casebook.ledger.removeEntry(call.actor, id);
  }
}
