import { Mutation, Query, Resolver } from '@nestjs/graphql';
import { NewSighting, NewVehicleMerge, Sighting, Vehicle, VehicleHistory, VehicleLookup, VehicleMerge } from '#libs/contracts/index.js';
import { type GraphCall, GraphCaller, IdArg, Input } from '../graphql/arguments.js';
import { objectTypeOf } from '../graphql/derive.js';

const VehicleType = objectTypeOf(Vehicle);
const VehicleHistoryType = objectTypeOf(VehicleHistory);
const VehicleMergeType = objectTypeOf(VehicleMerge);
const SightingType = objectTypeOf(Sighting);

@Resolver()
export class VehiclesResolver {
  @Query(() => VehicleType)
  vehicle(@GraphCaller() call: GraphCall, @IdArg() id: string) {
    return call.casebook.vehicles.getVehicle(call.actor, id);
  }

  @Query(() => VehicleType)
  lookUpVehicle(@GraphCaller() call: GraphCall, @Input(VehicleLookup) input: VehicleLookup) {
    return call.casebook.vehicles.lookUpVehicle(call.actor, input);
  }

  @Query(() => VehicleHistoryType)
  vehicleHistory(@GraphCaller() call: GraphCall, @IdArg() id: string) {
    return call.casebook.history.vehicleHistory(call.actor, id);
  }

  @Query(() => [VehicleMergeType])
  vehicleMerges(@GraphCaller() call: GraphCall, @IdArg() id: string) {
    return call.casebook.merges.listMerges(call.actor, id);
  }

  @Mutation(() => VehicleMergeType)
  mergeVehicles(@GraphCaller() call: GraphCall, @IdArg() id: string, @Input(NewVehicleMerge) input: NewVehicleMerge) {
    return call.casebook.merges.mergeVehicles(call.actor, id, input);
  }

  @Mutation(() => VehicleMergeType)
  undoMerge(@GraphCaller() call: GraphCall, @IdArg('vehicleId') vehicleId: string, @IdArg() id: string) {
    return call.casebook.merges.undoMerge(call.actor, vehicleId, id);
  }

  @Mutation(() => SightingType)
  recordSighting(@GraphCaller() call: GraphCall, @Input(NewSighting) input: NewSighting) {
    return call.casebook.vehicles.recordSighting(call.actor, input);
  }
}
