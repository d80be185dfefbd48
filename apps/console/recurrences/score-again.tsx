import { useScoring } from '../client/outcome-queries.ts';
import { useMe } from '../client/queries.ts';
import { Refused } from '../shell/states.tsx';

/** Asks the worker to weigh everything, for the first time or anew; for those who may. */
export function ScoreAgain({ subject }: { readonly subject: 'patterns' | 'watches' }) {
  const me = useMe();
  const scoring = useScoring(subject);
  if (me.data && !me.data.permissions.includes('platforms:write'))
    return <span className="quiet">Those with the permission platforms:write have it done again.</span>;
  if (scoring.error) return <Refused error={scoring.error} what={subject} />;
  return (
    <div className="row">
      <button type="button" onClick={() => scoring.mutate()} disabled={scoring.isPending || scoring.isSuccess}>
        {subject === 'patterns' ? 'Weigh now' : 'Look now'}
      </button>
      {scoring.isSuccess ? <span role="status">The worker is on it; open this page again when the bar above is gone.</span> : null}
    </div>
  );
}
