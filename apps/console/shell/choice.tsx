import { useId } from 'react';

interface ChoiceProps<T extends string> {
  readonly label: string;
  readonly value: T | '';
  readonly options: readonly (readonly [T, string])[];
  readonly none: string | null;
  readonly change: (value: T | '') => void;
}

/** One of a few. `none` is the choice of nothing, where that is allowed. */
export function Choice<T extends string>({ label, value, options, none, change }: ChoiceProps<T>) {
  const id = useId();
  return (
    <div className="field">
      <label htmlFor={id}>{label}</label>
      <select id={id} value={value} onChange={({ target }) => change(target.value as T | '')}>
        {none === null ? null : <option value="">{none}</option>}
        {options.map(([code, name]) => (
          <option key={code} value={code}>
            {name}
          </option>
        ))}
      </select>
    </div>
  );
}
