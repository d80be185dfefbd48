import { useMutation } from '@tanstack/react-query';
import { type ReactNode, useId, useState } from 'react';
import { answer, Refusal, server } from '../client/client.ts';
import { changeKey, shareDevice } from '../client/key.ts';

/** Something is on its way. */
export function Waiting({ what }: { readonly what: string }) {
  return (
    <p className="state" role="status">
      <span className="pulse" aria-hidden="true" /> Fetching {what}…
    </p>
  );
}

/** There is nothing, and this is what to do next. */
export function Nothing({ title, children }: { readonly title: string; readonly children: ReactNode }) {
  return (
    <div className="state">
      <strong>{title}</strong>
      <div>{children}</div>
    </div>
  );
}

/** A refusal in words, with the way on. */
export function Refused({ error, what, again }: { readonly error: unknown; readonly what: string; readonly again?: () => void }) {
  const refusal = error instanceof Refusal ? error : null;
  if (refusal?.status === 401) {
    return (
      <div className="state state-warning" role="alert">
        <strong>This key is not taken.</strong>
        <p>{refusal.message} Copy it again from where the server was started, or ask an administrator for a new one.</p>
        <KeyEntry />
      </div>
    );
  }
  if (refusal?.status === 403) {
    return (
      <div className="state state-warning" role="alert">
        <strong>Your key may not see {what}.</strong>
        <p>{refusal.message}</p>
        <p>Enter another key here, or ask an administrator to widen this one.</p>
        <KeyEntry />
      </div>
    );
  }
  return (
    <div className="state state-warning" role="alert">
      <strong>{refusal?.status === 0 ? 'No connection to the server.' : `There is no answer about ${what}.`}</strong>
      <p>
        {refusal?.status === 0
          ? 'What you typed is kept in this tab, and is sent again when the connection is back.'
          : (refusal?.message ?? 'Something went wrong on this page.')}
      </p>
      <Issues error={error} />
      {again ? (
        <button type="button" onClick={again}>
          Try again
        </button>
      ) : null}
    </div>
  );
}

/** Every fault of a request, where it is and how to mend it. */
export function Issues({ error }: { readonly error: unknown }) {
  const issues = error instanceof Refusal ? (error.problem?.errors ?? []) : [];
  if (issues.length === 0) return null;
  return (
    <ul>
      {issues.map((issue) => (
        <li key={`${issue.pointer} ${issue.detail}`}>
          <code>{issue.pointer}</code> {issue.detail} {issue.remedy}
        </li>
      ))}
    </ul>
  );
}

export function KeyEntry({ label = 'Your key' }: { readonly label?: string }) {
  const id = useId();
  const [typed, setTyped] = useState('');
  const [shared, setShared] = useState(false);
  const trimmed = typed.trim();
  const wrong = trimmed !== '' && !/^cbk_[\da-z_]+$/.test(trimmed);
  // The key of a shared device is changed for a session at once and is not kept: whoever uses the device next cannot read it.
  const share = useMutation({
    mutationFn: () => answer(server.POST('/v1/session', { body: { shared: true }, headers: { authorization: `Bearer ${trimmed}` } })),
    onSuccess: () => shareDevice(true),
  });
  return (
    <form
      className="key-entry"
      onSubmit={(event) => {
        event.preventDefault();
        if (trimmed === '' || wrong) return;
        if (shared) share.mutate();
        else changeKey(trimmed);
      }}
    >
      <label htmlFor={id}>{label}</label>
      <input
        id={id}
        value={typed}
        onChange={({ target }) => setTyped(target.value)}
        placeholder="cbk_…"
        autoComplete="off"
        spellCheck={false}
        aria-describedby={`${id}-hint`}
        aria-invalid={wrong}
      />
      <button type="submit" className="primary">
        Use this key
      </button>
      <label className="chip shared">
        <input type="checkbox" checked={shared} onChange={({ target }) => setShared(target.checked)} />
        Several people use this device: each signs in with a PIN
      </label>
      <small id={`${id}-hint`}>
        {wrong ? 'A key begins with cbk_ and has only small letters and digits. ' : ''}
        The server prints one for each role when it starts, and keeps them in first-keys.json of its data folder.{' '}
        {shared ? 'The key is exchanged for a session and not kept on this device.' : 'The key stays in this tab.'}
      </small>
      {share.error ? (
        <p role="alert" className="wrong">
          {share.error.message}
        </p>
      ) : null}
    </form>
  );
}

/** Pages that need a key ask for one first. */
export function NeedsKey({ page }: { readonly page: string }) {
  return (
    <div className="state">
      <strong>{page} needs a key.</strong>
      <KeyEntry />
    </div>
  );
}
