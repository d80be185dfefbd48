import { useMutation, useQueryClient } from '@tanstack/react-query';
import { type ReactNode, useRef, useState } from 'react';
import { answer, newRequestKey, server } from '../client/client.ts';
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
import { Refused } from '../shell/states.tsx';
import { words } from '../shell/words.ts';
import { isUnreadable, numberOf } from './draft.ts';
import { NumberField } from './fields.tsx';

const named = <T extends string>(codes: readonly T[]) => codes.map((code) => [code, words(code)] as const);
const faultOf = (code: string | null): FaultCode | '' => faultCodeValues.find((one) => one === code) ?? '';

/** Sends one record; the same request key goes with it until it is stored, so that a lost answer doubles nothing. */
function useRecord(send: (key: string) => Promise<unknown>) {
  const client = useQueryClient();
  const key = useRef(newRequestKey());
  return useMutation({
    mutationFn: () => send(key.current),
    onSuccess: () => {
      key.current = newRequestKey();
      return client.invalidateQueries();
    },
    // A refused body may be mended and sent again, which is another request.
    onError: (error) => {
      if ('status' in error && error.status !== 0) key.current = newRequestKey();
    },
  });
}

interface RecordFormProps {
  readonly title: string;
  readonly button: string;
  readonly ready: boolean;
  readonly record: ReturnType<typeof useRecord>;
  readonly children: ReactNode;
}

function RecordForm({ title, button, ready, record, children }: RecordFormProps) {
  return (
    <details className="sheet no-print">
      <summary>{title}</summary>
      <form
        className="stack"
        onSubmit={(event) => {
          event.preventDefault();
          if (ready) record.mutate();
        }}
      >
        <div className="form-row">{children}</div>
        {record.error ? <Refused error={record.error} what="this record" /> : null}
        <div className="row">
          <button type="submit" className="primary" disabled={!ready || record.isPending}>
            {button}
          </button>
          {record.isSuccess ? <span role="status">Recorded.</span> : null}
        </div>
      </form>
    </details>
  );
}

export function AddFindings({ caseId }: { readonly caseId: string }) {
  const [code, setCode] = useState<FindingCode | ''>('');
  const record = useRecord((key) =>
    answer(
      server.POST('/v1/cases/{id}/findings', {
        params: { path: { id: caseId }, header: { 'Idempotency-Key': key } },
        body: { findings: code === '' ? [] : [{ code }] },
      }),
    ),
  );
  return (
    <RecordForm title="Add something seen" button="Add it" ready={code !== ''} record={record}>
      <Choice label="Seen, heard or felt" value={code} options={named(findingCodeValues)} none="choose" change={setCode} />
    </RecordForm>
  );
}

interface LedProps {
  readonly caseId: string;
  readonly leading: string | null;
}

export function RecordProof({ caseId, leading }: LedProps) {
  const [fault, setFault] = useState<FaultCode | ''>(faultOf(leading));
  const [method, setMethod] = useState<ProofMethod | ''>('');
  const record = useRecord((key) =>
    answer(
      server.POST('/v1/cases/{id}/proofs', {
        params: { path: { id: caseId }, header: { 'Idempotency-Key': key } },
        body: { faults: [fault as FaultCode], method: method as ProofMethod, note: null },
      }),
    ),
  );
  return (
    <RecordForm title="Record the cause as found" button="Record the cause" ready={fault !== '' && method !== ''} record={record}>
      <Choice label="Cause" value={fault} options={named(faultCodeValues)} none="choose" change={setFault} />
      <Choice label="How it was established" value={method} options={named(proofMethodValues)} none="choose" change={setMethod} />
    </RecordForm>
  );
}

const today = () => new Date().toLocaleDateString('sv-SE');

export function RecordRepair({ caseId, leading }: LedProps) {
  const [fault, setFault] = useState<FaultCode | ''>(faultOf(leading));
  const [action, setAction] = useState<RepairAction | ''>('');
  const [intent, setIntent] = useState<RepairIntent | ''>('');
  const [on, setOn] = useState(today);
  const [recovered, setRecovered] = useState('');
  const [charged, setCharged] = useState('');
  const [cost, setCost] = useState('');
  const record = useRecord((key) =>
    answer(
      server.POST('/v1/cases/{id}/repairs', {
        params: { path: { id: caseId }, header: { 'Idempotency-Key': key } },
        body: {
          fault: fault as FaultCode,
          action: action as RepairAction,
          intent: intent as RepairIntent,
          day: on,
          parts: [],
          recoveredG: numberOf(recovered),
          chargedG: numberOf(charged),
          labourHours: null,
          cost: numberOf(cost),
          note: null,
        },
      }),
    ),
  );
  const ready = fault !== '' && action !== '' && intent !== '' && on !== '' && ![recovered, charged, cost].some(isUnreadable);
  return (
    <RecordForm title="Record a repair" button="Record the repair" ready={ready} record={record}>
      <Choice label="For which fault" value={fault} options={named(faultCodeValues)} none="choose" change={setFault} />
      <Choice label="What was done" value={action} options={named(repairActionValues)} none="choose" change={setAction} />
      <Choice
        label="Meant as"
        value={intent}
        options={repairIntentValues.map((code) => [code, INTENT_NAMES[code]] as const)}
        none="choose"
        change={setIntent}
      />
      <label className="field">
        <span>On</span>
        <input type="date" value={on} onChange={({ target }) => setOn(target.value)} />
      </label>
      <NumberField label="Recovered" unit="g" value={recovered} change={setRecovered} />
      <NumberField label="Charged" unit="g" value={charged} change={setCharged} />
      <NumberField label="Price" unit="" value={cost} change={setCost} />
    </RecordForm>
  );
}
