import { Mutation, Query, Resolver } from '@nestjs/graphql';
import { NewPlatform, Platform, PlatformPatch } from '#libs/contracts/index.js';
import { After, ExpectedVersion, First, type GraphCall, GraphCaller, IdArg, Input } from '../graphql/arguments.js';
import { objectTypeOf } from '../graphql/derive.js';
import { PlatformPage } from './platforms.controller.js';

const PlatformType = objectTypeOf(Platform);
const PlatformPageType = objectTypeOf(PlatformPage);

@Resolver()
export class PlatformsResolver {
  @Query(() => PlatformPageType)
  platforms(@GraphCaller() call: GraphCall, @First() first?: number, @After() after?: string) {
    return call.casebook.platforms.listPlatforms(call.actor, { first, after });
  }

  @Query(() => PlatformType)
  platform(@GraphCaller() call: GraphCall, @IdArg() id: string) {
    return call.casebook.platforms.getPlatform(call.actor, id);
  }

  @Mutation(() => PlatformType)
  addPlatform(@GraphCaller() call: GraphCall, @Input(NewPlatform) input: NewPlatform) {
    return call.casebook.platforms.addPlatform(call.actor, input);
  }

  @Mutation(() => PlatformType)
  changePlatform(
    @GraphCaller() call: GraphCall,
    @IdArg() id: string,
    @Input(PlatformPatch) input: PlatformPatch,
    @ExpectedVersion() version?: number,
  ) {
    return call.casebook.platforms.changePlatform(call.actor, id, input, version);
  }
}
