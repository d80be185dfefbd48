import type { ReactNode } from 'react';

/** The heads of a table's columns: what each says, and its kind where it is not words. */
export type Head = readonly [says: ReactNode, kind?: 'number'];

export function Heads({ of }: { readonly of: readonly Head[] }) {
  return (
    <thead>
      <tr>
        {of.map(([says, kind], i) => (
          // biome-ignore lint/suspicious/noArrayIndexKey: the columns of a table stay in their order
          <th key={i} scope="col" className={kind}>
            {says}
          </th>
        ))}
      </tr>
    </thead>
  );
}
