import { Body, Controller, Delete, Get, HttpCode, Param, Post } from '@nestjs/common';
import {
  Id,
  NewSighting,
  NewVehicleMerge,
  Sighting,
  Vehicle,
  VehicleHistory,
  VehicleLookup,
  VehicleMerge,
  VehicleMergeList,
} from '#libs/contracts/index.js';
import { Call, Caller } from '../http/call.js';
import { Operation } from '../http/operation.js';
import { NEW_MERGE_EXAMPLE, NEW_SIGHTING_EXAMPLE, VEHICLE_LOOKUP_EXAMPLE } from './vehicles.examples.js';

@Controller('v1')
export class VehiclesController {
  // The number travels in a body, never in an address that logs and histories keep.
  @Post('vehicles/lookup')
  @HttpCode(200)
  @Operation({
    id: 'lookUpVehicle',
    summary: 'The vehicle with this VIN or plate',
    permission: 'vehicles:read',
    body: VehicleLookup,
    example: VEHICLE_LOOKUP_EXAMPLE,
    reply: Vehicle,
  })
  lookUpVehicle(@Caller() call: Call, @Body({ schema: VehicleLookup }) body: VehicleLookup) {
    return call.casebook.vehicles.lookUpVehicle(call.actor, body);
  }

  @Get('vehicles/:id')
  @Operation({ id: 'getVehicle', summary: 'One vehicle', permission: 'vehicles:read', params: { id: Id }, reply: Vehicle })
  getVehicle(@Caller() call: Call, @Param('id', { schema: Id }) id: string) {
    return call.casebook.vehicles.getVehicle(call.actor, id);
  }

  @Get('vehicles/:id/history')
  @Operation({
    id: 'vehicleHistory',
    summary: 'What was found and done on this vehicle, at every shop, and how each repair ended',
    permission: 'vehicles:read',
    params: { id: Id },
    reply: VehicleHistory,
  })
  vehicleHistory(@Caller() call: Call, @Param('id', { schema: Id }) id: string) {
    return call.casebook.history.vehicleHistory(call.actor, id);
  }

  @Get('vehicles/:id/merges')
  @Operation({
    id: 'listMerges',
    summary: 'Which records were merged into this one, or it into which',
    permission: 'vehicles:read',
    params: { id: Id },
    reply: VehicleMergeList,
  })
  async listMerges(@Caller() call: Call, @Param('id', { schema: Id }) id: string) {
    return { data: await call.casebook.merges.listMerges(call.actor, id) };
  }

  @Post('vehicles/:id/merges')
  @Operation({
    id: 'mergeVehicles',
    summary: 'Two records are of one car: move the visits of the other here and link repairs again',
    permission: 'vehicles:write',
    params: { id: Id },
    body: NewVehicleMerge,
    example: NEW_MERGE_EXAMPLE,
    reply: VehicleMerge,
    status: 201,
    creates: true,
  })
  mergeVehicles(@Caller() call: Call, @Param('id', { schema: Id }) id: string, @Body({ schema: NewVehicleMerge }) body: NewVehicleMerge) {
    return call.create(
      (casebook) => casebook.merges.mergeVehicles(call.actor, id, body),
      () => ({ location: `/v1/vehicles/${id}/merges` }),
    );
  }

  @Delete('vehicles/:id/merges/:mergeId')
  @Operation({
    id: 'undoMerge',
    summary: 'Take a merge back: what was moved goes back and is linked again',
    permission: 'vehicles:write',
    params: { id: Id, mergeId: Id },
    reply: VehicleMerge,
  })
  undoMerge(@Caller() call: Call, @Param('id', { schema: Id }) id: string, @Param('mergeId', { schema: Id }) mergeId: string) {
    return call.casebook.merges.undoMerge(call.actor, id, mergeId);
  }

  @Post('sightings')
  @Operation({
    id: 'recordSighting',
    summary: 'The vehicle was here, for any job',
    permission: 'vehicles:write',
    body: NewSighting,
    example: NEW_SIGHTING_EXAMPLE,
    reply: Sighting,
    status: 201,
    creates: true,
  })
  recordSighting(@Caller() call: Call, @Body({ schema: NewSighting }) body: NewSighting) {
    return call.create(
      (casebook) => casebook.vehicles.recordSighting(call.actor, body),
      () => ({}),
    );
  }
}
