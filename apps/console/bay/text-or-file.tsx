import { useId, useState } from 'react';
import type { Read } from './grid.ts';

const MAX_BYTES = 8 * 1024 * 1024;

interface Props {
  readonly summary: string;
  readonly hint: string;
  readonly accept: string;
  readonly read: (text: string) => Read<unknown>;
}

/** What an instrument exported, as a file or pasted. Nothing is sent: it is read here. */
export function TextOrFile({ summary, hint, accept, read }: Props) {
  const id = useId();
  const [pasted, paste] = useState('');
  const [wrong, setWrong] = useState<string | null>(null);
  const take = (text: string) => {
    const taken = read(text);
    setWrong(taken.ok ? null : taken.why);
    if (taken.ok) paste('');
  };
  return (
    <details>
      <summary>{summary}</summary>
      <div className="stack">
        <small>{hint}</small>
        <div className="field">
          <label htmlFor={`${id}-file`}>File</label>
          <input
            id={`${id}-file`}
            type="file"
            accept={accept}
            onChange={async ({ target }) => {
              const file = target.files?.[0];
              if (!file) return;
              if (file.size > MAX_BYTES) setWrong(`The file has ${(file.size / 1e6).toFixed(0)} MB; at most 8 MB can be read.`);
              else take(await file.text());
              target.value = '';
            }}
          />
        </div>
        <div className="field">
          <label htmlFor={`${id}-text`}>Or paste</label>
          <textarea id={`${id}-text`} rows={3} spellCheck={false} value={pasted} onChange={({ target }) => paste(target.value)} />
        </div>
        {wrong ? (
          <p role="alert" className="wrong">
            {wrong}
          </p>
        ) : null}
        <div className="row">
          <button type="button" disabled={pasted.trim() === ''} onClick={() => take(pasted)}>
            Read it
          </button>
        </div>
      </div>
    </details>
  );
}
