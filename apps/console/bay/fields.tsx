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

interface ChoiceProps<T extends string> {
  readonly label: string;
  readonly value: T | '';
  readonly options: readonly (readonly [T, string])[];
  readonly none: string | null;
  readonly change: (value: T | '') => void;
}

export function Choice<T extends string>({ label, value, options, none, change }: ChoiceProps<T>) {
  return (
    <label className="field">
      <span>{label}</span>
      <select value={value} onChange={({ target }) => change(target.value as T | '')}>
        {none === null ? null : <option value="">{none}</option>}
        {options.map(([code, name]) => (
          <option key={code} value={code}>
            {name}
          </option>
        ))}
      </select>
    </label>
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
