import type { Me, Rediagnosis } from '../client/generated/api.ts';
import { useMe } from '../client/queries.ts';
import { useRediagnose, useRediagnoses } from '../client/settings-queries.ts';
import { Answered } from '../shell/answered.tsx';
import { Heads } from '../shell/heads.tsx';
import { Refused } from '../shell/states.tsx';
import { count, decimal, inSentence, moment, plural } from '../shell/words.ts';

const MOST_TRANSITIONS = 8;

/** Stored cases judged again by the present engine: how far it is, and what it changed. */
export function RediagnosisPart() {
  return (
    <section className="sheet stack" aria-label="History judged again">
      <h2>History judged again</h2>
      <p className="quiet">
        After a new engine the worker answers every stored case again, so that signatures and figures compare like with like. Earlier
        answers stay readable.
      </p>
      <Answered query={useMe()} what="who this key is">
        {(me) => <Runs me={me} />}
      </Answered>
    </section>
  );
}

function Runs({ me }: { readonly me: Me }) {
  const runs = useRediagnoses();
  const begin = useRediagnose();
  return (
    <Answered query={runs} what="what was judged again">
      {({ data }) => {
        const [latest] = data;
        const underWay = latest !== undefined && latest.state !== 'done' && latest.state !== 'failed';
        return (
          <div className="stack">
            {latest ? <Latest run={latest} underWay={underWay} /> : <p>It was not done yet.</p>}
            {me.permissions.includes('platforms:write') ? (
              <div className="row">
                <button type="button" disabled={underWay || begin.isPending} onClick={() => begin.mutate()}>
                  Judge history again
                </button>
              </div>
            ) : null}
            {begin.error ? <Refused error={begin.error} what="this" /> : null}
          </div>
        );
      }}
    </Answered>
  );
}

function Latest({ run, underWay }: { readonly run: Rediagnosis; readonly underWay: boolean }) {
  return (
    <div className="stack">
      <div className="row" role="status">
        <span>
          {moment(run.createdAt)}, engine {run.engineVersion}: {count(run.done)} of {count(run.total)}
          {run.detail === null ? '' : `, ${run.detail}`}
        </span>
        {underWay ? <progress aria-label="Cases judged" max={Math.max(1, run.total)} value={run.done} /> : null}
      </div>
      {run.compared === 0 ? null : (
        <p>
          Of {plural(run.compared, 'case')} that had an answer, {count(run.leadingChanged)} have another first answer;{' '}
          {count(run.nowAnswered)} could not be told before and are now, {count(run.nowCannotTell)} the other way round; in{' '}
          {count(run.moved)} more the probability moved by a tenth or more
          {run.meanMoved === null ? '' : ` (${decimal(run.meanMoved)} on average where the first answer stayed)`}.{' '}
          {run.failed === 0 ? '' : `${plural(run.failed, 'case')} could not be read and keep the old answer.`}
        </p>
      )}
      {run.transitions.length === 0 ? null : (
        <div className="table-wrap">
          <table>
            <caption>First answer before and now, most frequent first</caption>
            <Heads of={[['Before'], ['Now'], ['Cases', 'number']]} />
            <tbody>
              {run.transitions.slice(0, MOST_TRANSITIONS).map(({ from, to, count: n }) => (
                <tr key={`${from} ${to}`}>
                  <th scope="row">{inSentence(from)}</th>
                  <td>{inSentence(to)}</td>
                  <td className="number">{count(n)}</td>
                </tr>
              ))}
            </tbody>
          </table>
        </div>
      )}
    </div>
  );
}
