import { answer, server } from '../client/client.ts';
import {
  type Case,
  type FaultCode,
  type FindingCode,
  faultCodeValues,
  findingCodeValues,
  type Part,
  type ProofMethod,
  proofMethodValues,
  type Repair,
  type RepairAction,
  type RepairIntent,
  repairActionValues,
  repairIntentValues,
} from '../client/generated/api.ts';
import { INTENT_NAMES } from '../recurrences/intent.tsx';
import { Choice } from '../shell/choice.tsx';
import { words } from '../shell/words.ts';
import { RemoveRepair } from './corrections.tsx';
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

interface RepairForm {
  readonly fault: FaultCode | '';
  readonly action: RepairAction | '';
  readonly intent: RepairIntent | '';
  readonly on: string;
  readonly recovered: string;
  readonly charged: string;
  readonly hours: string;
  readonly cost: string;
  readonly part: string;
  readonly number: string;
  readonly note: string;
}

const numbersOf = ({ recovered, charged, hours, cost }: RepairForm) => ({
  recoveredG: numberOf(recovered),
  chargedG: numberOf(charged),
  labourHours: numberOf(hours),
  cost: numberOf(cost),
});
const isWhole = ({ fault, action, intent, on, recovered, charged, hours, cost }: RepairForm) =>
  fault !== '' && action !== '' && intent !== '' && on !== '' && ![recovered, charged, hours, cost].some(isUnreadable);

interface RepairProps extends LedProps {
  readonly platformId: string | null;
}

export function RecordRepair({ caseId, leading, platformId }: RepairProps) {
  const empty: RepairForm = {
    fault: faultOf(leading),
    action: '',
    intent: '',
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
          parts: partsOf(form, []),
          ...numbersOf(form),
          note: form.note.trim() || null,
        },
      }),
    ),
  );
  return (
    <RecordForm title="Record a repair" button="Record the repair" ready={isWhole(typed)} record={record}>
      <RepairFields typed={typed} change={change} platformId={platformId} />
    </RecordForm>
  );
}

/** The first part as it is typed, and whatever other parts there are. */
function partsOf({ part, number }: RepairForm, [first, ...others]: readonly Part[]): Part[] {
  if (part.trim() === '') return others;
  const { number: _number, ...rest } = first ?? { quantity: 1 };
  return [{ ...rest, name: part.trim(), ...(number.trim() === '' ? {} : { number: number.trim() }) }, ...others];
}

interface CorrectProps {
  readonly found: Case;
  readonly repair: Repair;
}

/** A repair that was entered wrongly, put right in place. What became of it is derived again; the trail keeps what stood before. */
export function CorrectRepair({ found, repair }: CorrectProps) {
  const text = (value: number | null) => (value === null ? '' : String(value));
  const standing: RepairForm = {
    fault: faultOf(repair.fault),
    action: repair.action,
    intent: repair.intent,
    on: repair.day,
    recovered: text(repair.recoveredG),
    charged: text(repair.chargedG),
    hours: text(repair.labourHours),
    cost: text(repair.cost),
    part: repair.parts[0]?.name ?? '',
    number: repair.parts[0]?.number ?? '',
    note: repair.note ?? '',
  };
  const { typed, change, record } = useRecord(`correct-repair.${repair.id}`, standing, (form) =>
    answer(
      server.PATCH('/v1/cases/{id}/repairs/{repairId}', {
        params: { path: { id: found.id, repairId: repair.id }, header: { 'If-Match': `"${found.version}"` } },
        body: {
          fault: form.fault as FaultCode,
          action: form.action as RepairAction,
          intent: form.intent as RepairIntent,
          day: form.on,
          parts: partsOf(form, repair.parts),
          ...numbersOf(form),
          note: form.note.trim() || null,
        },
        headers: { 'content-type': 'application/merge-patch+json' },
      }),
    ),
  );
  return (
    <RecordForm
      title="Correct this repair"
      button="Save the correction"
      ready={isWhole(typed)}
      record={record}
      beside={<RemoveRepair found={found} repair={repair} />}
    >
      <RepairFields typed={typed} change={change} platformId={found.platformId} />
    </RecordForm>
  );
}

interface FieldsProps {
  readonly typed: RepairForm;
  readonly change: (parts: Partial<RepairForm>) => void;
  readonly platformId: string | null;
}

function RepairFields({ typed, change, platformId }: FieldsProps) {
  const policies = usePolicies(platformId).data ?? [];
  const { fault, action, intent, on } = typed;
  const against = fault !== '' && action !== '' ? broken(policies, fault, action) : null;
  return (
    <>
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
    </>
  );
}
