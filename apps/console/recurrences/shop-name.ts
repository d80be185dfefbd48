/** A shop's name; shops the reader may not open have none. */
export const shopName = ({ shopName: name }: { readonly shopName: string | null }): string => name ?? 'a shop of another';
