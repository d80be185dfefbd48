import { type FormEvent, useId, useState } from 'react';
import type { FaultCode, NewPolicy, Policy, PolicyRule, RepairAction } from '../client/generated/api.ts';
import { policyRuleValues, repairActionValues } from '../client/generated/api.ts';
import { useEndPolicy, usePolicies, useSetPolicy } from '../client/outcome-queries.ts';
import { useMe, usePlatforms } from '../client/queries.ts';
import { Answered } from '../shell/answered.tsx';
import { Choice } from '../shell/choice.tsx';
import { Heads } from '../shell/heads.tsx';
import { address, goTo } from '../shell/route.ts';
import { Nothing, Refused } from '../shell/states.tsx';
import { day, inSentence, words } from '../shell/words.ts';
import { FAULTS, platformChoices } from './filters.tsx';
import { PolicyEffect } from './policy-effect.tsx';

const PATH = '/recurrences/policies';
const RULES: Readonly<Record<PolicyRule, string>> = { forbid: 'Not', require: 'Only' };
const ACTIONS = repairActionValues.map((code) => [code, words(code)] as const);

/** What is forbidden or required, whether it is followed, and whether it worked. */
export function Policies({ search }: { readonly search: URLSearchParams }) {
  const me = useMe();
  const ended = search.get('ended') === 'yes';
  const policies = usePolicies({ state: ended ? 'all' : 'in-force' });
  const platforms = usePlatforms();
  const platformName = (id: string) => platforms.data?.find((one) => one.id === id)?.name ?? '…';
  const maySet = me.data !== undefined && (me.data.role === 'director' || me.data.role === 'administrator');
  const chosen = search.get('policy');
  return (
    <div className="stack">
      <div className="row spread">
        <div className="stack tight">
          <h1>Policies</h1>
          <p className="lead">
            Repairs you forbid or require for a fault on a platform: shown where the repair is chosen, and judged here.
          </p>
        </div>
        <Choice
          label="Show"
          value={ended ? 'yes' : 'no'}
          options={[
            ['no', 'in force'],
            ['yes', 'also ended ones'],
          ]}
          none={null}
          change={(value) => goTo(address(PATH, { ended: value === 'yes' ? 'yes' : '' }))}
        />
      </div>
      {maySet ? (
        <details className="sheet no-print" open={search.has('action') || search.has('fault')}>
          <summary>Set a policy</summary>
          <PolicyForm search={search} />
        </details>
      ) : me.data ? (
        <p className="quiet">Policies are set by directors. This key may read them.</p>
      ) : null}
      <Answered query={policies} what="the policies">
        {({ data }) =>
          data.length === 0 ? (
            <Nothing title="No policy is in force.">
              Look at <a href="#/recurrences">what comes back</a> first: a stop-gap that fails on one platform may do on others.
            </Nothing>
          ) : (
            <PolicyTable policies={data} platformName={platformName} chosen={chosen} ended={ended} mayEnd={maySet} />
          )
        }
      </Answered>
      {chosen ? <PolicyEffect key={chosen} id={chosen} platformName={platformName} /> : null}
    </div>
  );
}

interface TableProps {
  readonly policies: readonly Policy[];
  readonly platformName: (id: string) => string;
  readonly chosen: string | null;
  readonly ended: boolean;
  readonly mayEnd: boolean;
}

function PolicyTable({ policies, platformName, chosen, ended, mayEnd }: TableProps) {
  const ending = useEndPolicy();
  const [asked, ask] = useState<string | null>(null);
  return (
    <section className="sheet stack" aria-label="Policies">
      {ending.error ? <Refused error={ending.error} what="this policy" /> : null}
      <div className="table-wrap">
        <table className="chooser">
          <caption>Open one to see whether it is followed, and whether it worked.</caption>
          <Heads of={[['Policy'], ['Platform and fault'], ['In force from'], ['Why'], ['End it']]} />
          <tbody>
            {policies.map((policy) => (
              <tr key={policy.id} aria-current={policy.id === chosen ? 'true' : undefined}>
                <th scope="row">
                  <a href={address(PATH, { policy: policy.id, ended: ended ? 'yes' : '' })}>
                    {RULES[policy.rule]}: {inSentence(policy.action)}
                  </a>
                </th>
                <td>
                  {platformName(policy.platformId)}: {inSentence(policy.fault)}
                </td>
                <td>
                  {day(policy.since)}
                  {policy.endedOn === null ? '' : ` to ${day(policy.endedOn)}`}
                </td>
                <td>{policy.note ?? '–'}</td>
                <td>
                  {policy.endedOn !== null || !mayEnd ? (
                    '–'
                  ) : asked === policy.id ? (
                    <button type="button" className="small" disabled={ending.isPending} onClick={() => ending.mutate(policy.id)}>
                      End it from today
                    </button>
                  ) : (
                    <button type="button" className="small" onClick={() => ask(policy.id)}>
                      End…
                    </button>
                  )}
                </td>
              </tr>
            ))}
          </tbody>
        </table>
      </div>
    </section>
  );
}

function PolicyForm({ search }: { readonly search: URLSearchParams }) {
  const platforms = usePlatforms();
  const setting = useSetPolicy();
  const id = useId();
  const [rule, setRule] = useState<PolicyRule | ''>('forbid');
  const [platformId, setPlatform] = useState(search.get('platform') ?? '');
  const [fault, setFault] = useState<FaultCode | ''>((search.get('fault') as FaultCode | null) ?? '');
  const [action, setAction] = useState<RepairAction | ''>((search.get('action') as RepairAction | null) ?? '');
  const [note, setNote] = useState('');
  const whole = rule !== '' && platformId !== '' && fault !== '' && action !== '';
  const send = (event: FormEvent) => {
    event.preventDefault();
    if (!whole) return;
    const body: NewPolicy = { rule, platformId, fault, action, ...(note.trim() === '' ? {} : { note: note.trim() }) };
    setting.mutate(body, { onSuccess: ({ id: made }) => goTo(address(PATH, { policy: made })) });
  };
  return (
    <form className="stack" onSubmit={send}>
      <div className="form-row">
        <Choice
          label="Rule"
          value={rule}
          options={policyRuleValues.map((code) => [code, code === 'forbid' ? 'not this repair' : 'this repair and no other'] as const)}
          none={null}
          change={setRule}
        />
        <Choice label="Repair" value={action} options={ACTIONS} none="choose" change={setAction} />
        <Choice label="For the fault" value={fault} options={FAULTS} none="choose" change={setFault} />
        <Choice label="On the platform" value={platformId} options={platformChoices(platforms.data)} none="choose" change={setPlatform} />
      </div>
      <div className="field">
        <label htmlFor={id}>Why (shown where the work is done)</label>
        <input id={id} value={note} maxLength={500} onChange={({ target }) => setNote(target.value)} />
      </div>
      <div className="row">
        <button type="submit" className="primary" disabled={!whole || setting.isPending}>
          Set it from today
        </button>
        {whole ? null : <span className="quiet">Choose the repair, the fault and the platform first.</span>}
      </div>
      {setting.error ? <Refused error={setting.error} what="this policy" /> : null}
    </form>
  );
}
