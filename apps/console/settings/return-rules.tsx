import { type FormEvent, useState } from 'react';
import type { NewOutcomeRules, OutcomeRules } from '../client/generated/api.ts';
import { useMe } from '../client/queries.ts';
import { useOutcomeRules, useSetOutcomeRules } from '../client/settings-queries.ts';
import { Answered } from '../shell/answered.tsx';
import { Refused } from '../shell/states.tsx';
import { TextField } from '../shell/text-field.tsx';
import { moment } from '../shell/words.ts';

/** Bounds of the service, told before anything is sent. */
const LIMITS = { sameVisitDays: [0, 14], lookBackDays: [30, 3650], presenceDays: [0, 730] } as const;
type Name = keyof typeof LIMITS;

/** What is one visit, how late a return counts, how long a car is taken to be around: the same for every figure of the organisation. */
export function ReturnRules() {
  const me = useMe();
  const mayWrite = me.data?.permissions.includes('platforms:write') ?? false;
  return (
    <div className="stack">
      <div className="stack tight">
        <h1>What counts as a return</h1>
        <p className="lead">One set of rules for every figure of the organisation. A change makes all of them anew.</p>
      </div>
      <Answered query={useOutcomeRules()} what="the rules">
        {(rules) => (
          <>
            <Standing rules={rules} />
            {mayWrite ? (
              <Change key={rules.version} rules={rules} />
            ) : me.data ? (
              <p className="quiet">They are changed with the permission platforms:write, for all shops. This key may read them.</p>
            ) : null}
          </>
        )}
      </Answered>
    </div>
  );
}

function Standing({ rules }: { readonly rules: OutcomeRules }) {
  return (
    <section className="sheet stack" aria-label="The rules that stand">
      <h2>As it stands</h2>
      {rules.pendingTaskId === null ? null : (
        <p className="state state-warning">
          <span>
            <strong>The worker is deriving the figures again.</strong> Until it is done some of them still stand by the earlier rules.
          </span>
        </p>
      )}
      <ul className="bullets">
        {rules.definitions.map((one) => (
          <li key={one}>{one}</li>
        ))}
      </ul>
      <p className="quiet">{rules.setAt === null ? 'Nothing was changed: these are the usual values.' : `Set ${moment(rules.setAt)}.`}</p>
    </section>
  );
}

function Change({ rules }: { readonly rules: OutcomeRules }) {
  const set = useSetOutcomeRules();
  const [typed, setTyped] = useState<Readonly<Record<Name, string>>>({
    sameVisitDays: String(rules.sameVisitDays),
    lookBackDays: rules.lookBackDays === null ? '' : String(rules.lookBackDays),
    presenceDays: String(rules.presenceDays),
  });
  const wrong = (name: Name): string | null => {
    const text = typed[name].trim();
    if (name === 'lookBackDays' && text === '') return null;
    const [least, most] = LIMITS[name];
    return /^\d+$/.test(text) && Number(text) >= least && Number(text) <= most ? null : `A whole number of days, ${least} to ${most}.`;
  };
  const field = (name: Name, label: string) => (
    <TextField
      label={label}
      inputMode="numeric"
      value={typed[name]}
      wrong={wrong(name)}
      change={(text) => setTyped({ ...typed, [name]: text })}
    />
  );
  const next: NewOutcomeRules = {
    sameVisitDays: Number(typed.sameVisitDays),
    lookBackDays: typed.lookBackDays.trim() === '' ? null : Number(typed.lookBackDays),
    presenceDays: Number(typed.presenceDays),
  };
  const isWhole = (Object.keys(LIMITS) as Name[]).every((name) => wrong(name) === null);
  const isOther = (Object.keys(LIMITS) as Name[]).some((name) => next[name] !== rules[name]);
  const submit = (event: FormEvent) => {
    event.preventDefault();
    if (isWhole && isOther) set.mutate(next);
  };
  return (
    <form className="sheet stack" onSubmit={submit} aria-label="Change the rules">
      <h2>Change them</h2>
      <div className="form-row">
        {field('sameVisitDays', 'Orders of one visit lie within, days')}
        {field('lookBackDays', 'A repair is followed for, days (empty: without end)')}
        {field('presenceDays', 'A car is around after it was last seen for, days')}
      </div>
      <div className="row">
        <button type="submit" className="primary" disabled={!isWhole || !isOther || set.isPending}>
          Set these rules
        </button>
        <span className="quiet">
          {isOther ? 'Every figure is then derived again; that takes minutes to hours.' : 'These are the rules that stand.'}
        </span>
      </div>
      {set.error ? <Refused error={set.error} what="these rules" /> : null}
    </form>
  );
}
