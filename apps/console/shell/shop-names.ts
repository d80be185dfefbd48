import type { Shop } from '../client/generated/api.ts';

/** A shop's name; shops outside one's own are not named. */
export const nameOfShop = (shops: readonly Shop[] | undefined, id: string): string =>
  shops?.find((shop) => shop.id === id)?.name ?? (shops === undefined ? '…' : 'a shop of another');

/** What a key or a person is limited to, in words. */
export const shopsInWords = (shops: readonly Shop[] | undefined, ids: readonly string[] | null): string =>
  ids === null ? 'every shop' : ids.map((id) => nameOfShop(shops, id)).join(', ');
