import { type FormEvent, useId, useState, useSyncExternalStore } from 'react';
import { useRoute } from '../shell/route.ts';

/** Names of views, kept in this browser. The view itself is its address, which anyone with a key may open. */
const SLOT = 'coolback.views';
const MOST = 40;
const listeners = new Set<() => void>();

interface View {
  readonly name: string;
  readonly hash: string;
}

function parse(kept: string | null): readonly View[] {
  if (kept === null) return [];
  try {
    const views: unknown = JSON.parse(kept);
    return Array.isArray(views) ? views.filter(isView) : [];
  } catch {
    return [];
  }
}

const isView = (value: unknown): value is View =>
  typeof value === 'object' &&
  value !== null &&
  'name' in value &&
  'hash' in value &&
  typeof value.name === 'string' &&
  typeof value.hash === 'string' &&
  value.hash.startsWith('#/');

function keep(views: readonly View[]): void {
  localStorage.setItem(SLOT, JSON.stringify(views.slice(0, MOST)));
  for (const listener of listeners) listener();
}

export function SavedViews() {
  const kept = useSyncExternalStore(
    (listener) => {
      listeners.add(listener);
      return () => listeners.delete(listener);
    },
    () => localStorage.getItem(SLOT),
  );
  const views = parse(kept);
  const id = useId();
  const [name, setName] = useState('');
  const [said, say] = useState('');
  useRoute();
  const save = (event: FormEvent) => {
    event.preventDefault();
    const hash = window.location.hash;
    const trimmed = name.trim();
    if (trimmed === '') return;
    keep([{ name: trimmed, hash }, ...views.filter((view) => view.name !== trimmed)]);
    setName('');
    say(`Kept as “${trimmed}”.`);
  };
  return (
    <details className="views">
      <summary>Saved views</summary>
      <div className="stack tight">
        {views.length === 0 ? <p className="quiet">None yet. A view is a page with its filters.</p> : null}
        <ul>
          {views.map((view) => (
            <li key={view.name}>
              <a href={view.hash}>{view.name}</a>
              <button
                type="button"
                className="small"
                onClick={async () => {
                  await navigator.clipboard.writeText(new URL(view.hash, window.location.href).href);
                  say(`The address of “${view.name}” is copied.`);
                }}
              >
                Copy<span className="unseen"> the address of {view.name}</span>
              </button>
              <button
                type="button"
                className="small"
                onClick={() => {
                  keep(views.filter(({ name: other }) => other !== view.name));
                  say(`“${view.name}” is forgotten; its address still works.`);
                }}
              >
                Forget<span className="unseen"> {view.name}</span>
              </button>
            </li>
          ))}
        </ul>
        <form onSubmit={save} className="stack tight">
          <label htmlFor={id}>Keep this view as</label>
          <input id={id} value={name} maxLength={60} onChange={({ target }) => setName(target.value)} />
          <button type="submit" disabled={name.trim() === ''}>
            Keep
          </button>
        </form>
        <p role="status" className="quiet">
          {said}
        </p>
        <small>Names stay in this browser. An address opens the same view for anyone with a key of this organisation.</small>
      </div>
    </details>
  );
}
