import type { Platform } from '../client/generated/api.ts';
import { useMe, usePlatforms } from '../client/queries.ts';
import { Answered } from '../shell/answered.tsx';
import { type LongColumn, LongTable } from '../shell/long-table.tsx';
import { Nothing } from '../shell/states.tsx';
import { count, plural, words } from '../shell/words.ts';

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
  const platforms = usePlatforms();
  const me = useMe();
  const mayWrite = me.data?.permissions.includes('platforms:write') ?? false;
  return (
    <div className="stack">
      <div className="row spread">
        <div className="stack tight">
          <h1>Platforms</h1>
          <p className="lead">
            A vehicle platform’s air-conditioning system: where ports and transducers sit decides what a pressure means.
          </p>
        </div>
        {mayWrite ? (
          <a className="button" href="#/settings/platforms/new">
            Add a platform
          </a>
        ) : null}
      </div>
      <Answered query={platforms} what="the platforms">
        {(all) =>
          all.length === 0 ? (
            <Nothing title="There is no platform yet.">
              {mayWrite ? <a href="#/settings/platforms/new">Add the first one</a> : 'Ask an administrator to add one.'}
            </Nothing>
          ) : (
            <section className="sheet" aria-label="Platforms">
              <LongTable
                className="chooser"
                caption={plural(all.length, 'platform')}
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
