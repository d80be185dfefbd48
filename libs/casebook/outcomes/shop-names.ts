import { type Actor, mayOpenShop } from '../access/actor.js';

/** How many shops that the viewer may not open must stand side by side before they are shown, unnamed. */
const FEWEST_UNNAMED = 3;

export interface NamedShop {
  readonly id: string;
  readonly code: string;
  readonly name: string;
}

/** A shop as a viewer sees it. */
export interface ShownShop {
  readonly shopId: string | null;
  readonly shopCode: string | null;
  readonly shopName: string | null;
}

/** Which shops a viewer sees, and under what name: those that may not be opened stay unnamed, and are left out where too few would stand side by side. */
export function shownShops(
  actor: Actor,
  shops: readonly NamedShop[],
): { readonly shown: ReadonlyMap<string, ShownShop>; readonly withheld: number } {
  const foreign = shops.filter((shop) => !mayOpenShop(actor, shop.id)).length;
  const withheld = foreign < FEWEST_UNNAMED ? foreign : 0;
  const shown = new Map<string, ShownShop>();
  for (const { id, code, name } of shops) {
    if (mayOpenShop(actor, id)) shown.set(id, { shopId: id, shopCode: code, shopName: name });
    else if (withheld === 0) shown.set(id, { shopId: null, shopCode: null, shopName: null });
  }
  return { shown, withheld };
}

export function withheldCautions(withheld: number): string[] {
  return withheld === 0 ? [] : [`${withheld} ${withheld === 1 ? 'shop' : 'shops'} you may not open: too few to be shown unnamed.`];
}
