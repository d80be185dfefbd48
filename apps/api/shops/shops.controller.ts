import { Body, Controller, Get, Param, Patch, Post, Put, Query } from '@nestjs/common';
import { Id, NewShop, NewShopWeather, PageInput, pageOf, Shop, ShopPatch, ShopWeather, WeatherQuestion } from '#libs/contracts/index.js';
import { Call, Caller } from '../http/call.js';
import { Operation } from '../http/operation.js';
import { NEW_SHOP_EXAMPLE, NEW_WEATHER_EXAMPLE, SHOP_PATCH_EXAMPLE } from './shops.examples.js';

export const ShopPage = pageOf(Shop, 'ShopPage');

@Controller('v1/shops')
export class ShopsController {
  @Get()
  @Operation({ id: 'listShops', summary: 'Shops you may use', permission: 'shops:read', query: PageInput, reply: ShopPage })
  async listShops(@Caller() call: Call, @Query({ schema: PageInput }) page: PageInput) {
    return call.paged(await call.casebook.shops.listShops(call.actor, page));
  }

  @Post()
  @Operation({
    id: 'addShop',
    summary: 'Add a shop',
    permission: 'shops:write',
    body: NewShop,
    example: NEW_SHOP_EXAMPLE,
    reply: Shop,
    status: 201,
    creates: true,
  })
  addShop(@Caller() call: Call, @Body({ schema: NewShop }) body: NewShop) {
    return call.create(
      (casebook) => casebook.shops.addShop(call.actor, body),
      (shop) => ({ location: `/v1/shops/${shop.id}`, version: shop.version }),
    );
  }

  @Get(':id')
  @Operation({ id: 'getShop', summary: 'One shop', permission: 'shops:read', params: { id: Id }, reply: Shop })
  async getShop(@Caller() call: Call, @Param('id', { schema: Id }) id: string) {
    return call.tagged(await call.casebook.shops.getShop(call.actor, id));
  }

  @Patch(':id')
  @Operation({
    id: 'changeShop',
    summary: 'Change a shop',
    permission: 'shops:write',
    params: { id: Id },
    body: ShopPatch,
    example: SHOP_PATCH_EXAMPLE,
    bodyType: 'application/merge-patch+json',
    ifMatch: 'required',
    reply: Shop,
  })
  async changeShop(@Caller() call: Call, @Param('id', { schema: Id }) id: string, @Body({ schema: ShopPatch }) body: ShopPatch) {
    return call.tagged(await call.casebook.shops.changeShop(call.actor, id, body, call.expectedVersion));
  }

  @Get(':id/weather')
  @Operation({
    id: 'shopWeather',
    summary: 'Daily mean temperatures observed at a shop',
    permission: 'shops:read',
    params: { id: Id },
    query: WeatherQuestion,
    reply: ShopWeather,
  })
  shopWeather(@Caller() call: Call, @Param('id', { schema: Id }) id: string, @Query({ schema: WeatherQuestion }) query: WeatherQuestion) {
    return call.casebook.weather.shopWeather(call.actor, id, query);
  }

  @Put(':id/weather')
  @Operation({
    id: 'putWeather',
    summary: 'Take in observed daily means; the heat clock runs on them, and on the normals where none is known',
    permission: 'shops:write',
    params: { id: Id },
    body: NewShopWeather,
    example: NEW_WEATHER_EXAMPLE,
    reply: ShopWeather,
  })
  putWeather(@Caller() call: Call, @Param('id', { schema: Id }) id: string, @Body({ schema: NewShopWeather }) body: NewShopWeather) {
    return call.casebook.weather.putWeather(call.actor, id, body);
  }
}
