import { Mutation, Query, Resolver } from '@nestjs/graphql';
import { NewShop, NewShopWeather, Shop, ShopPatch, ShopWeather, WeatherQuestion } from '#libs/contracts/index.js';
import { After, ExpectedVersion, First, type GraphCall, GraphCaller, IdArg, Input, OptionalInput } from '../graphql/arguments.js';
import { objectTypeOf } from '../graphql/derive.js';
import { ShopPage } from './shops.controller.js';

const ShopType = objectTypeOf(Shop);
const ShopWeatherType = objectTypeOf(ShopWeather);
const ShopPageType = objectTypeOf(ShopPage);

@Resolver()
export class ShopsResolver {
  @Query(() => ShopPageType)
  shops(@GraphCaller() call: GraphCall, @First() first?: number, @After() after?: string) {
    return call.casebook.shops.listShops(call.actor, { first, after });
  }

  @Query(() => ShopType)
  shop(@GraphCaller() call: GraphCall, @IdArg() id: string) {
    return call.casebook.shops.getShop(call.actor, id);
  }

  @Query(() => ShopWeatherType)
  shopWeather(@GraphCaller() call: GraphCall, @IdArg() id: string, @OptionalInput('question', WeatherQuestion) question?: WeatherQuestion) {
    return call.casebook.weather.shopWeather(call.actor, id, question ?? {});
  }

  @Mutation(() => ShopWeatherType)
  putWeather(@GraphCaller() call: GraphCall, @IdArg() id: string, @Input(NewShopWeather) input: NewShopWeather) {
    return call.casebook.weather.putWeather(call.actor, id, input);
  }

  @Mutation(() => ShopType)
  addShop(@GraphCaller() call: GraphCall, @Input(NewShop) input: NewShop) {
    return call.casebook.shops.addShop(call.actor, input);
  }

  @Mutation(() => ShopType)
  changeShop(@GraphCaller() call: GraphCall, @IdArg() id: string, @Input(ShopPatch) input: ShopPatch, @ExpectedVersion() version?: number) {
    return call.casebook.shops.changeShop(call.actor, id, input, version);
  }
}
