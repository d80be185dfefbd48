import { answer, server } from '../client/client.ts';
import {
  type FaultCode,
  type FindingCode,
  faultCodeValues,
  findingCodeValues,
  type ProofMethod,
  proofMethodValues,
  type RepairAction,
  type RepairIntent,
  repairActionValues,
  repairIntentValues,
} from '../client/generated/api.ts';
import { INTENT_NAMES } from '../recurrences/intent.tsx';
import { Choice } from '../shell/choice.tsx';
import { words } from '../shell/words.ts';
import { isUnreadable, numberOf } from './draft.ts';
import { NumberField, TextField } from './fields.tsx';
import { broken, Policies, policyText, usePolicies } from './policies.tsx';
import { RecordForm, useRecord } from './record.tsx';

const named = <T extends string>(codes: readonly T[]) => codes.map((code) => [code, words(code)] as const);
export const faultOf = (code: string | null): FaultCode | '' => faultCodeValues.find((one) => one === code) ?? '';
const FAULTS = named(faultCodeValues.filter((code) => code !== 'healthy'));

export function AddFindings({ caseId }: { readonly caseId: string }) {
  const { typed, change, record } = useRecord(`finding.${caseId}`, { code: '' as FindingCode | '', note: '' }, ({ code, note }, key) =>
    answer(
      server.POST('/v1/cases/{id}/findings', {
        params: { path: { id: caseId }, header: { 'Idempotency-Key': key } },
        body: { findings: [{ code: code as FindingCode, ...(note.trim() === '' ? {} : { note: note.trim() }) }] },
      }),
    ),
  );
  return (
    <RecordForm title="Add something seen" button="Add it" ready={typed.code !== ''} record={record}>
      <div className="form-row">
        <Choice
          label="Seen, heard or felt"
          value={typed.code}
          options={named(findingCodeValues)}
          none="choose"
          change={(code) => change({ code })}
        />
        <TextField label="Note" value={typed.note} max={500} change={(note) => change({ note })} />
      </div>
    </RecordForm>
  );
}

interface LedProps {
  readonly caseId: string;
  readonly leading: string | null;
}

export function RecordProof({ caseId, leading }: LedProps) {
  const empty = { fault: faultOf(leading), second: '' as FaultCode | '', method: '' as ProofMethod | '', note: '' };
  const { typed, change, record } = useRecord(`proof.${caseId}`, empty, ({ fault, second, method, note }, key) =>
    answer(
      server.POST('/v1/cases/{id}/proofs', {
        params: { path: { id: caseId }, header: { 'Idempotency-Key': key } },
        body: {
          faults: [fault as FaultCode, ...(second === '' || second === fault ? [] : [second])],
          method: method as ProofMethod,
          note: note.trim() || null,
        },
      }),
    ),
  );
  return (
    <RecordForm
      title="Record the cause as found"
      button="Record the cause"
      ready={typed.fault !== '' && typed.method !== ''}
      record={record}
    >
      <div className="form-row">
        <Choice label="Cause" value={typed.fault} options={FAULTS} none="choose" change={(fault) => change({ fault })} />
        <Choice
          label="Or, not told apart from it"
          value={typed.second}
          options={FAULTS}
          none="no other"
          change={(second) => change({ second })}
        />
        <Choice
          label="How it was established"
          value={typed.method}
          options={named(proofMethodValues)}
          none="choose"
          change={(method) => change({ method })}
        />
        <TextField label="Note" value={typed.note} max={1000} change={(note) => change({ note })} />
      </div>
    </RecordForm>
  );
}

const today = () => new Date().toLocaleDateString('sv-SE');

interface RepairProps extends LedProps {
  readonly platformId: string | null;
}

export function RecordRepair({ caseId, leading, platformId }: RepairProps) {
  const policies = usePolicies(platformId).data ?? [];
  const empty = {
    fault: faultOf(leading),
    action: '' as RepairAction | '',
    intent: '' as RepairIntent | '',
    on: today(),
    recovered: '',
    charged: '',
    hours: '',
    cost: '',
    part: '',
    number: '',
    note: '',
  };
  const { typed, change, record } = useRecord(`repair.${caseId}`, empty, (form, key) =>
    answer(
      server.POST('/v1/cases/{id}/repairs', {
        params: { path: { id: caseId }, header: { 'Idempotency-Key': key } },
        body: {
          fault: form.fault as FaultCode,
          action: form.action as RepairAction,
          intent: form.intent as RepairIntent,
          day: form.on,
          parts:
            form.part.trim() === ''
              ? []
              : [{ name: form.part.trim(), quantity: 1, ...(form.number.trim() === '' ? {} : { number: form.number.trim() }) }],
          recoveredG: numberOf(form.recovered),
          chargedG: numberOf(form.charged),
          labourHours: numberOf(form.hours),
          cost: numberOf(form.cost),
          note: form.note.trim() || null,
        },
      }),
    ),
  );
  const { fault, action, intent, on } = typed;
  const numbers = [typed.recovered, typed.charged, typed.hours, typed.cost];
  const ready = fault !== '' && action !== '' && intent !== '' && on !== '' && !numbers.some(isUnreadable);
  const against = fault !== '' && action !== '' ? broken(policies, fault, action) : null;
  return (
    <RecordForm title="Record a repair" button="Record the repair" ready={ready} record={record}>
      <Policies policies={policies} fault={fault === '' ? null : fault} />
      <div className="form-row">
        <Choice label="For which fault" value={fault} options={FAULTS} none="choose" change={(one) => change({ fault: one })} />
        <Choice
          label="What was done"
          value={action}
          options={named(repairActionValues)}
          none="choose"
          change={(one) => change({ action: one })}
        />
        <Choice
          label="Meant as"
          value={intent}
          options={repairIntentValues.map((code) => [code, INTENT_NAMES[code]] as const)}
          none="choose"
          change={(one) => change({ intent: one })}
        />
        <label className="field">
          <span>On</span>
          <input type="date" value={on} onChange={({ target }) => change({ on: target.value })} />
        </label>
        <NumberField label="Recovered" unit="g" value={typed.recovered} change={(recovered) => change({ recovered })} />
        <NumberField label="Charged" unit="g" value={typed.charged} change={(charged) => change({ charged })} />
        <NumberField label="Labour" unit="h" value={typed.hours} change={(hours) => change({ hours })} />
        <NumberField label="Price" unit="" value={typed.cost} change={(cost) => change({ cost })} />
        <TextField label="Part" value={typed.part} max={120} change={(part) => change({ part })} />
        <TextField label="Part number" value={typed.number} max={60} change={(number) => change({ number })} />
        <TextField label="Note" value={typed.note} max={1000} change={(note) => change({ note })} />
      </div>
      {against ? (
        <p className="state state-warning" role="alert">
          This is against a policy: {policyText(against)} It is recorded as done all the same, and counts as not followed.
        </p>
      ) : null}
    </RecordForm>
  );
}
