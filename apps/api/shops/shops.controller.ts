import { Body, Controller, Get, Param, Patch, Post, Query } from '@nestjs/common';
import { Id, NewShop, PageInput, pageOf, Shop, ShopPatch } from '#libs/contracts/index.js';
import { Call, Caller } from '../http/call.js';
import { Operation } from '../http/operation.js';
import { NEW_SHOP_EXAMPLE, SHOP_PATCH_EXAMPLE } from './shops.examples.js';

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
}
