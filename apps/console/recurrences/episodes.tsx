import type { EpisodeGroup } from '../client/generated/api.ts';
import { useEpisodes, useShops } from '../client/queries.ts';
import { downloadCsv } from '../shell/csv.ts';
import { Nothing, Refused, Waiting } from '../shell/states.tsx';
import { count, day, words } from '../shell/words.ts';

/** The repairs behind a figure, and how each ended. */
export function Episodes({ group, name }: { readonly group: EpisodeGroup; readonly name: string }) {
  const pages = useEpisodes(group);
  const shops = useShops();
  const shopName = (id: string | null) => shops.data?.find((shop) => shop.id === id)?.name ?? (id === null ? '' : 'a shop of another');
  const episodes = pages.data?.pages.flatMap(({ data }) => data) ?? [];
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
      {pages.error ? (
        <Refused error={pages.error} what="the repairs" again={() => pages.refetch()} />
      ) : pages.isPending ? (
        <Waiting what="the repairs" />
      ) : episodes.length === 0 ? (
        <Nothing title="No such repair is recorded.">Repairs recorded on cases appear here at once.</Nothing>
      ) : (
        <>
          <div className="table-wrap">
            <table>
              <thead>
                <tr>
                  <th scope="col">Repaired on</th>
                  <th scope="col">At</th>
                  <th scope="col">What was done</th>
                  <th scope="col">How it ended</th>
                  <th scope="col">When and where</th>
                  <th scope="col" className="number">
                    Days
                  </th>
                  <th scope="col" className="number">
                    Degree-days
                  </th>
                  <th scope="col" className="number">
                    km
                  </th>
                  <th scope="col">Case</th>
                </tr>
              </thead>
              <tbody>
                {episodes.map((one) => (
                  <tr key={one.id}>
                    <td>{day(one.startedOn)}</td>
                    <td>{shopName(one.shopId)}</td>
                    <td>{words(one.action)}</td>
                    <td>{words(one.end)}</td>
                    <td>{one.end === 'running' || one.end === 'left' ? '–' : `${day(one.endedOn)}, ${shopName(one.endShopId)}`}</td>
                    <td className="number">{count(one.days)}</td>
                    <td className="number">{count(one.degreeDays)}</td>
                    <td className="number">{one.odometerKm === null ? '–' : count(one.odometerKm)}</td>
                    <td>
                      <a href={`#/bay/case/${one.caseId}`}>
                        Open<span className="unseen"> the case of {day(one.startedOn)}</span>
                      </a>
                    </td>
                  </tr>
                ))}
              </tbody>
            </table>
          </div>
          {pages.hasNextPage ? (
            <p>
              <button type="button" onClick={() => pages.fetchNextPage()} disabled={pages.isFetchingNextPage}>
                More
              </button>
            </p>
          ) : null}
        </>
      )}
    </section>
  );
}
