import { type ComponentProps, useId } from 'react';

interface Props extends Omit<ComponentProps<'input'>, 'id' | 'value' | 'onChange'> {
  readonly label: string;
  readonly value: string;
  readonly change: (value: string) => void;
  /** What is wrong with it, shown beneath. */
  readonly wrong?: string | null;
}

/** One typed value with its label. */
export function TextField({ label, value, change, wrong = null, ...input }: Props) {
  const id = useId();
  return (
    <div className="field">
      <label htmlFor={id}>{label}</label>
      <input
        {...input}
        id={id}
        value={value}
        aria-invalid={wrong !== null}
        aria-describedby={wrong === null ? undefined : `${id}-wrong`}
        onChange={({ target }) => change(target.value)}
      />
      {wrong === null ? null : (
        <small id={`${id}-wrong`} className="wrong">
          {wrong}
        </small>
      )}
    </div>
  );
}
