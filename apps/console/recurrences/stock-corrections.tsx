import { type FormEvent, useState } from 'react';
import type { Cylinder, Machine, RefrigerantEntry } from '../client/generated/api.ts';
import { useStockActions } from '../client/stock-queries.ts';
import { Refused } from '../shell/states.tsx';
import { TextField } from '../shell/text-field.tsx';
import { count, day } from '../shell/words.ts';

interface Field<Name extends string> {
  readonly name: Name;
  readonly label: string;
  readonly type?: 'date';
  readonly maxLength?: number;
  /** Least amount, where it is one; a word must not be empty unless it may. */
  readonly least?: number;
  readonly mayBeEmpty?: boolean;
}

interface Props<Name extends string> {
  /** What is corrected, for readers' tools. */
  readonly of: string;
  readonly fields: readonly Field<Name>[];
  readonly standing: Readonly<Record<Name, string>>;
  readonly busy: boolean;
  readonly error: unknown;
  readonly save: (typed: Readonly<Record<Name, string>>, done: () => void) => void;
}

function isTyped({ least, mayBeEmpty }: Field<string>, text: string): boolean {
  if (text.trim() === '') return mayBeEmpty === true;
  return least === undefined || (Number.isFinite(Number(text)) && Number(text) >= least);
}

/** A button that becomes the fields of its row, and a button again once they are saved. The trail keeps what stood before. */
function Correction<Name extends string>({ of, fields, standing, busy, error, save }: Props<Name>) {
  const [typed, setTyped] = useState<Readonly<Record<Name, string>> | null>(null);
  if (typed === null) {
    return (
      <button type="button" className="small" onClick={() => setTyped(standing)}>
        Change<span className="unseen"> {of}</span>
      </button>
    );
  }
  const isWhole = fields.every((field) => isTyped(field, typed[field.name]));
  const submit = (event: FormEvent) => {
    event.preventDefault();
    if (isWhole && !busy) save(typed, () => setTyped(null));
  };
  return (
    <form className="stack tight" onSubmit={submit} aria-label={`Change ${of}`}>
      {fields.map(({ name, label, type, maxLength, least }) => (
        <TextField
          key={name}
          label={label}
          type={type}
          maxLength={maxLength}
          inputMode={least === undefined ? undefined : 'decimal'}
          value={typed[name]}
          change={(text) => setTyped({ ...typed, [name]: text })}
        />
      ))}
      <div className="row">
        <button type="submit" className="small" disabled={!isWhole || busy}>
          Save<span className="unseen"> {of}</span>
        </button>
        <button type="button" className="small" onClick={() => setTyped(null)}>
          Leave it
        </button>
      </div>
      {error ? <Refused error={error} what={of} /> : null}
    </form>
  );
}

export function CorrectEntry({ entry: { id, version, massG, day: on, document } }: { readonly entry: RefrigerantEntry }) {
  const { correct } = useStockActions();
  return (
    <Correction
      of={`${count(massG)} g of ${day(on)}`}
      fields={[
        { name: 'massG', label: 'Mass, g', least: 0 },
        { name: 'day', label: 'Day', type: 'date' },
        { name: 'document', label: 'Document', maxLength: 120, mayBeEmpty: true },
      ]}
      standing={{ massG: String(massG), day: on, document: document ?? '' }}
      busy={correct.isPending}
      error={correct.error}
      save={(typed, done) => {
        const body = { massG: Number(typed.massG), day: typed.day, document: typed.document.trim() || null };
        correct.mutate({ id, version, body }, { onSuccess: done });
      }}
    />
  );
}

export function CorrectMachine({ machine: { id, version, name, scaleErrorG } }: { readonly machine: Machine }) {
  const { changeMachine } = useStockActions();
  return (
    <Correction
      of={name}
      fields={[
        { name: 'name', label: 'Name', maxLength: 120 },
        { name: 'scaleErrorG', label: 'Scale errs by at most, g', least: 0 },
      ]}
      standing={{ name, scaleErrorG: String(scaleErrorG) }}
      busy={changeMachine.isPending}
      error={changeMachine.error}
      save={(typed, done) => {
        const body = { name: typed.name.trim(), scaleErrorG: Number(typed.scaleErrorG) };
        changeMachine.mutate({ id, version, body }, { onSuccess: done });
      }}
    />
  );
}

export function CorrectCylinder({ cylinder: { id, version, label, capacityG } }: { readonly cylinder: Cylinder }) {
  const { changeCylinder } = useStockActions();
  return (
    <Correction
      of={label}
      fields={[
        { name: 'label', label: 'Label', maxLength: 60 },
        { name: 'capacityG', label: 'May hold, g', least: 1 },
      ]}
      standing={{ label, capacityG: String(capacityG) }}
      busy={changeCylinder.isPending}
      error={changeCylinder.error}
      save={(typed, done) => {
        const body = { label: typed.label.trim(), capacityG: Number(typed.capacityG) };
        changeCylinder.mutate({ id, version, body }, { onSuccess: done });
      }}
    />
  );
}
