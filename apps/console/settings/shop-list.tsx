import type { Shop } from '../client/generated/api.ts';
import { useShops } from '../client/queries.ts';
import type { LongColumn } from '../shell/long-table.tsx';
import { count, decimal } from '../shell/words.ts';
import { Catalogue } from './catalogue.tsx';

const COLUMNS: readonly LongColumn<Shop>[] = [
  { key: 'name', head: 'Shop', kind: 'head', cell: ({ id, name }) => <a href={`#/settings/shops/${id}`}>{name}</a> },
  { key: 'code', head: 'Code', cell: ({ code }) => <code>{code}</code> },
  { key: 'elevation', head: 'Elevation, m', kind: 'number', cell: ({ elevationM }) => count(elevationM) },
  { key: 'zone', head: 'Time zone', cell: ({ timeZone }) => timeZone },
  {
    key: 'summer',
    head: 'Warmest month, mean °C',
    kind: 'number',
    cell: ({ normals }) => decimal(Math.max(...normals.map(({ meanC }) => meanC))),
  },
  { key: 'rate', head: 'An hour of work', kind: 'number', cell: ({ labourRate, currency }) => `${decimal(labourRate)} ${currency}` },
];

/** The shops this key may use. */
export function ShopList() {
  return (
    <Catalogue
      title="Shops"
      lead="Where cars are seen, how high, and in what climate: the heat clock of every repair runs on it."
      one="shop"
      path="/settings/shops"
      permission="shops:write"
      query={useShops()}
      columns={COLUMNS}
    />
  );
}
