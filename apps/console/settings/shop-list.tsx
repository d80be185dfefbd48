import type { Shop } from '../client/generated/api.ts';
import { useMe, useShops } from '../client/queries.ts';
import { Answered } from '../shell/answered.tsx';
import { type LongColumn, LongTable } from '../shell/long-table.tsx';
import { Nothing } from '../shell/states.tsx';
import { count, decimal, plural } from '../shell/words.ts';

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
  const me = useMe();
  const shops = useShops();
  const mayWrite = me.data?.permissions.includes('shops:write') ?? false;
  return (
    <div className="stack">
      <div className="row spread">
        <div className="stack tight">
          <h1>Shops</h1>
          <p className="lead">Where cars are seen, how high, and in what climate: the heat clock of every repair runs on it.</p>
        </div>
        {mayWrite ? (
          <a className="button" href="#/settings/shops/new">
            Add a shop
          </a>
        ) : null}
      </div>
      <Answered query={shops} what="the shops">
        {(all) =>
          all.length === 0 ? (
            <Nothing title="There is no shop yet.">
              {mayWrite ? <a href="#/settings/shops/new">Add the first one</a> : 'Ask an administrator to add one.'}
            </Nothing>
          ) : (
            <section className="sheet" aria-label="Shops">
              <LongTable
                className="chooser"
                caption={plural(all.length, 'shop')}
                rows={all}
                rowKey={({ id }) => id}
                rowHeight={40}
                columns={COLUMNS}
              />
            </section>
          )
        }
      </Answered>
    </div>
  );
}
