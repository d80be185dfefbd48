import { Body, Controller, Get, HttpCode, Param, Post } from '@nestjs/common';
import { Id, NewSighting, Sighting, Vehicle, VehicleHistory, VehicleLookup } from '#libs/contracts/index.js';
import { Call, Caller } from '../http/call.js';
import { Operation } from '../http/operation.js';
import { NEW_SIGHTING_EXAMPLE, VEHICLE_LOOKUP_EXAMPLE } from './vehicles.examples.js';

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
