import { useHistory, usePlatforms, useShops } from '../client/queries.ts';
import { INTENT_NAMES } from '../recurrences/intent.tsx';
import { Heads } from '../shell/heads.tsx';
import { Nothing, Refused, Waiting } from '../shell/states.tsx';
import { count, day, inSentence, plural, words } from '../shell/words.ts';
import { VehicleFinder } from './vehicle-finder.tsx';

/** A car followed across the shops: visits, repairs and how each held. Shops that are not the reader's are not named. */
export function VehiclePage({ id }: { readonly id: string }) {
  const history = useHistory(id);
  const platforms = usePlatforms();
  const shops = useShops();
  const shopName = (shopId: string | null) => shops.data?.find((shop) => shop.id === shopId)?.name ?? 'another shop';
  if (history.error) {
    return (
      <div className="stack">
        <h1>A car’s past</h1>
        <Refused error={history.error} what="this car" again={() => history.refetch()} />
      </div>
    );
  }
  if (!history.data) return <Waiting what="the car’s past" />;
  const { vehicle, visits, episodes, sightings } = history.data;
  const platform = platforms.data?.find((one) => one.id === vehicle.platformId);
  return (
    <div className="stack">
      <div className="row spread">
        <h1>
          {platform?.name ?? 'Car of unknown platform'}
          {vehicle.modelYear === null ? '' : `, ${vehicle.modelYear}`}
        </h1>
        <VehicleFinder given={null} />
      </div>
      <p className="lead">
        Known by {vehicle.linkedBy === 'none' ? 'nothing that can be followed' : `its ${vehicle.linkedBy === 'vin' ? 'VIN' : 'plate'}`}, and
        seen {plural(visits.length, 'time')} for air conditioning, {plural(sightings.length, 'time')} for something else.
      </p>
      <section className="sheet stack" aria-label="Visits">
        <h2>Visits, at whatever shop</h2>
        {visits.length === 0 ? (
          <Nothing title="No visit is recorded.">
            <a href="#/bay">Open a case for it</a>.
          </Nothing>
        ) : (
          <div className="table-wrap">
            <table>
              <Heads of={[['Day'], ['Shop'], ['Complaint'], ['Proved'], ['Done'], ['Case']]} />
              <tbody>
                {visits.map((visit) => (
                  <tr key={visit.caseId ?? visit.openedAt}>
                    <th scope="row">{day(visit.openedAt)}</th>
                    <td>{shopName(visit.shopId)}</td>
                    <td>{words(visit.complaint)}</td>
                    <td>
                      {visit.provedFaults.length > 0 ? (
                        visit.provedFaults.map(words).join(', ')
                      ) : (
                        <span className="quiet">{visit.leadingFault ? `read as ${inSentence(visit.leadingFault)}` : '–'}</span>
                      )}
                    </td>
                    <td>{visit.repairs.map(({ action, intent }) => `${words(action)} (${INTENT_NAMES[intent]})`).join(', ') || '–'}</td>
                    <td>
                      {visit.caseId === null ? (
                        '–'
                      ) : (
                        <a href={`#/bay/case/${visit.caseId}`}>
                          Open<span className="unseen"> the case of {day(visit.openedAt)}</span>
                        </a>
                      )}
                    </td>
                  </tr>
                ))}
              </tbody>
            </table>
          </div>
        )}
      </section>
      <section className="sheet stack" aria-label="Repairs and how they held">
        <h2>Repairs and how they held</h2>
        {episodes.length === 0 ? (
          <p className="quiet">No repair is recorded.</p>
        ) : (
          <div className="table-wrap">
            <table>
              <Heads of={[['Repaired on'], ['For'], ['What'], ['How it ended'], ['Days', 'number'], ['Degree-days', 'number']]} />
              <tbody>
                {episodes.map((episode) => (
                  <tr key={episode.id}>
                    <th scope="row">{day(episode.startedOn)}</th>
                    <td>{words(episode.fault)}</td>
                    <td>
                      {words(episode.action)} ({INTENT_NAMES[episode.intent]})
                    </td>
                    <td>{words(episode.end)}</td>
                    <td className="number">{count(episode.days)}</td>
                    <td className="number">{count(episode.degreeDays)}</td>
                  </tr>
                ))}
              </tbody>
            </table>
          </div>
        )}
      </section>
    </div>
  );
}
