import type { EnginePlatform } from './evidence.js';

/** Kinds kept: a table of every platform ever asked about would grow with an integrator's list of them. */
const KEPT = 500;

/** What decides which faults exist on a system and what the tables say of them. */
const keyOf = ({ layout, compressor, dualEvaporator, reserveShare }: EnginePlatform): string =>
  `${layout} ${compressor} ${dualEvaporator === false ? 'one' : 'two'} ${reserveShare ?? ''}`;

/** A function of the kind of system, worked out once a kind: a case asks for the same lists as every other case of its platform. */
export function onceAKind<T>(of: (platform: EnginePlatform) => T): (platform: EnginePlatform) => T {
  const made = new Map<string, T>();
  return (platform) => {
    const key = keyOf(platform);
    let one = made.get(key);
    if (one === undefined) {
      if (made.size >= KEPT) made.clear();
      one = of(platform);
      made.set(key, one);
    }
    return one;
  };
}
