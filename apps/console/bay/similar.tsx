import { useQuery } from '@tanstack/react-query';
import { answer, server } from '../client/client.ts';
import type { DiagnosisQuestion, Shop, SimilarCases } from '../client/generated/api.ts';
import { useSimilarToCase } from '../client/queries.ts';
import { INTENT_NAMES } from '../recurrences/intent.tsx';
import { Heads } from '../shell/heads.tsx';
import { Nothing, Refused, Waiting } from '../shell/states.tsx';
import { count, day, inSentence, said, words } from '../shell/words.ts';

export function SimilarToReadings({ question, shops }: { readonly question: DiagnosisQuestion; readonly shops: readonly Shop[] }) {
  const similar = useQuery({
    queryKey: ['similar', question],
    queryFn: () => answer(server.POST('/v1/similar-cases', { body: { question, limit: 8 } })),
  });
  return <Similar {...similar} again={() => similar.refetch()} shops={shops} />;
}

export function SimilarToCase({ caseId, shops }: { readonly caseId: string; readonly shops: readonly Shop[] }) {
  const similar = useSimilarToCase(caseId);
  return <Similar {...similar} again={() => similar.refetch()} shops={shops} />;
}

interface Props {
  readonly data: SimilarCases | undefined;
  readonly error: unknown;
  readonly again: () => void;
  readonly shops: readonly Shop[];
}

/** Past cases like this one, nearest first; those that speak against the leading explanation stand among the others and say so. */
function Similar({ data, error, again, shops }: Props) {
  return (
    <section className="sheet stack" aria-label="Similar cases">
      <h2>Cars like this one, nearest first</h2>
      {error ? (
        <Refused error={error} what="similar cases" again={again} />
      ) : data === undefined ? (
        <Waiting what="similar cases" />
      ) : data.data.length === 0 ? (
        <Nothing title="No similar case yet.">{said(data.message)}</Nothing>
      ) : (
        <>
          <p className="quiet">{said(data.message)}</p>
          <div className="table-wrap">
            <table>
              <Heads of={[['Case'], ['What was proved'], ['What was done, and how it ended'], ['Distance', 'number']]} />
              <tbody>
                {data.data.map((one) => (
                  <tr key={one.caseId ?? `${one.openedAt} ${one.distance}`}>
                    <th scope="row">
                      {one.caseId === null ? day(one.openedAt) : <a href={`#/bay/case/${one.caseId}`}>{day(one.openedAt)}</a>}
                      <br />
                      <span className="quiet">
                        {shops.find(({ id }) => id === one.shopId)?.name ?? 'another shop'}
                        {one.samePlatform ? ', same platform' : ''}
                      </span>
                    </th>
                    <td>
                      {one.provedFaults.length === 0 ? (
                        <span className="quiet">nothing proved{one.leadingFault ? `; read as ${inSentence(one.leadingFault)}` : ''}</span>
                      ) : (
                        one.provedFaults.map(words).join(', ')
                      )}
                      {one.contrary ? (
                        <>
                          {' '}
                          <span className="flag">speaks against</span>
                        </>
                      ) : null}
                    </td>
                    <td>
                      {one.repairs.length === 0
                        ? '–'
                        : one.repairs.map((repair) => (
                            <div key={`${repair.day} ${repair.action}`}>
                              {words(repair.action)} ({INTENT_NAMES[repair.intent]}): {inSentence(repair.end)} after {count(repair.days)}{' '}
                              days
                            </div>
                          ))}
                    </td>
                    <td className="number">{one.distance.toFixed(1)}</td>
                  </tr>
                ))}
              </tbody>
            </table>
          </div>
          <small>
            Distance: how far the readings lie apart in standard deviations, over the {data.data[0]!.sharedReadings} or so both have. What
            was not read there counts as sound.
          </small>
        </>
      )}
    </section>
  );
}
