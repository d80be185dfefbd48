import { type ReactNode, useId } from 'react';
import { isUnreadable } from './draft.ts';

interface NumberFieldProps {
  readonly label: string;
  readonly value: string;
  readonly unit: string;
  readonly change: (typed: string) => void;
}

/** A number with its unit beside it; what cannot be read as one is said at once. */
export function NumberField({ label, value, unit, change }: NumberFieldProps) {
  const id = useId();
  const wrong = isUnreadable(value);
  return (
    <div className="field number-field">
      <label htmlFor={id}>{label}</label>
      <span className="with-unit">
        <input
          id={id}
          inputMode="decimal"
          autoComplete="off"
          value={value}
          aria-invalid={wrong}
          onChange={({ target }) => change(target.value)}
        />
        <span>{unit}</span>
      </span>
      {wrong ? <small role="alert">Not a number</small> : null}
    </div>
  );
}

export function Part({ title, children, note }: { readonly title: string; readonly children: ReactNode; readonly note?: ReactNode }) {
  return (
    <fieldset className="sheet part">
      <legend>
        <h2>{title}</h2>
      </legend>
      {note ? <small>{note}</small> : null}
      {children}
    </fieldset>
  );
}

interface TextFieldProps {
  readonly label: string;
  readonly value: string;
  readonly max: number;
  readonly change: (typed: string) => void;
}

export function TextField({ label, value, max, change }: TextFieldProps) {
  const id = useId();
  return (
    <div className="field">
      <label htmlFor={id}>{label}</label>
      <input id={id} value={value} maxLength={max} autoComplete="off" onChange={({ target }) => change(target.value)} />
    </div>
  );
}
