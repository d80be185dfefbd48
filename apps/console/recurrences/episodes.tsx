import { useCallback, useMemo } from 'react';
import type { Episode, EpisodeGroup } from '../client/generated/api.ts';
import { useEpisodes, useShops } from '../client/queries.ts';
import { downloadCsv } from '../shell/csv.ts';
import type { LongColumn } from '../shell/long-table.tsx';
import { PagedList, rowsOf } from '../shell/paged-list.tsx';
import { nameOfShop } from '../shell/shop-names.ts';
import { Nothing } from '../shell/states.tsx';
import { count, day, plural, words } from '../shell/words.ts';

/** The repairs behind a figure, and how each ended. */
export function Episodes({ group, name }: { readonly group: EpisodeGroup; readonly name: string }) {
  const pages = useEpisodes(group);
  const shops = useShops();
  const shopName = useCallback<NameOf>((id) => (id === null ? '' : nameOfShop(shops.data, id)), [shops.data]);
  const columns = useMemo(() => columnsOf(shopName), [shopName]);
  const episodes = rowsOf(pages);
  return (
    <section className="sheet stack" aria-label="Cases behind the figure">
      <div className="row spread">
        <h2>The repairs behind it, newest first</h2>
        {episodes.length === 0 ? null : (
          <button
            type="button"
            className="no-print"
            onClick={() =>
              downloadCsv(
                `repairs-${name}`,
                ['repaired on', 'shop', 'action', 'intent', 'end', 'ended on', 'ended at', 'days', 'degree-days', 'km', 'case'],
                episodes.map((one) => [
                  one.startedOn,
                  shopName(one.shopId),
                  one.action,
                  one.intent,
                  one.end,
                  one.endedOn,
                  shopName(one.endShopId),
                  one.days,
                  one.degreeDays,
                  one.odometerKm,
                  one.caseId,
                ]),
              )
            }
          >
            CSV of these {episodes.length}
          </button>
        )}
      </div>
      <PagedList
        pages={pages}
        what="the repairs"
        nothing={<Nothing title="No such repair is recorded.">Repairs recorded on cases appear here at once.</Nothing>}
        caption={(rows) => `${plural(rows.length, 'repair')} so far.`}
        rowKey={({ id }) => id}
        columns={columns}
        rowHeight={37}
      />
    </section>
  );
}

type NameOf = (shopId: string | null) => string;

const columnsOf = (nameOf: NameOf): readonly LongColumn<Episode>[] => [
  { key: 'on', head: 'Repaired on', kind: 'date', cell: ({ startedOn }) => day(startedOn) },
  { key: 'at', head: 'At', cell: ({ shopId }) => nameOf(shopId) },
  { key: 'action', head: 'What was done', cell: ({ action }) => words(action) },
  { key: 'end', head: 'How it ended', cell: ({ end }) => words(end) },
  {
    key: 'where',
    head: 'When and where',
    cell: ({ end, endedOn, endShopId }) => (end === 'running' || end === 'left' ? '–' : `${day(endedOn)}, ${nameOf(endShopId)}`),
  },
  { key: 'days', head: 'Days', kind: 'number', cell: ({ days }) => count(days) },
  { key: 'heat', head: 'Degree-days', kind: 'number', cell: ({ degreeDays }) => count(degreeDays) },
  { key: 'km', head: 'km', kind: 'number', cell: ({ odometerKm }) => (odometerKm === null ? '–' : count(odometerKm)) },
  {
    key: 'open',
    head: 'Case',
    cell: ({ caseId, startedOn }) => (
      <a href={`#/bay/case/${caseId}`}>
        Open<span className="unseen"> the case of {day(startedOn)}</span>
      </a>
    ),
  },
];
