import type { Platform } from '../client/generated/api.ts';
import { usePlatforms } from '../client/queries.ts';
import type { LongColumn } from '../shell/long-table.tsx';
import { count, words } from '../shell/words.ts';
import { Catalogue } from './catalogue.tsx';

const COLUMNS: readonly LongColumn<Platform>[] = [
  { key: 'name', head: 'Platform', kind: 'head', cell: ({ id, name }) => <a href={`#/settings/platforms/${id}`}>{name}</a> },
  { key: 'family', head: 'Family', cell: ({ family }) => family },
  { key: 'layout', head: 'Layout', cell: ({ layout }) => words(layout) },
  { key: 'compressor', head: 'Compressor', cell: ({ compressor }) => words(compressor) },
  { key: 'refrigerant', head: 'Refrigerant', cell: ({ refrigerant }) => refrigerant },
  { key: 'charge', head: 'Charge, g', kind: 'number', cell: ({ chargeG }) => count(chargeG) },
  { key: 'years', head: 'Model years', kind: 'number', cell: ({ firstYear, lastYear }) => `${firstYear}–${lastYear}` },
];

/** Vehicle platforms with what the engine has to know of their systems. */
export function PlatformList() {
  return (
    <Catalogue
      title="Platforms"
      lead="A vehicle platform’s air-conditioning system: where ports and transducers sit decides what a pressure means."
      one="platform"
      path="/settings/platforms"
      permission="platforms:write"
      query={usePlatforms()}
      columns={COLUMNS}
    />
  );
}
