import type { Platform } from '../client/generated/api.ts';

/** The platform whose patterns a VIN fits, when it is the only one; `?` stands for any character. */
export function platformOfVin(vin: string, platforms: readonly Platform[]): Platform | null {
  const start = vin.trim().toUpperCase().slice(0, 8);
  if (start.length < 8) return null;
  const fits = (pattern: string) => [...pattern].every((character, i) => character === '?' || character === start[i]);
  const found = platforms.filter(({ vinPatterns }) => vinPatterns.some(fits));
  return found.length === 1 ? found[0]! : null;
}
