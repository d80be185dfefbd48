import type { ImportRun, ImportState as State } from '../client/generated/api.ts';
import { count } from '../shell/words.ts';

const NAMES: Readonly<Record<State, string>> = {
  receiving: 'Arriving',
  waiting: 'Waiting for the worker',
  running: 'Under way',
  done: 'Done',
  failed: 'Failed',
};

/** How far an import is, in a word and, while it moves, a bar. */
export function ImportState({ run }: { readonly run: ImportRun }) {
  if (run.state !== 'running') return <span className={run.state === 'failed' ? 'flag' : undefined}>{NAMES[run.state]}</span>;
  return (
    <span className="row">
      <progress max={Math.max(1, run.received)} value={run.done} aria-label={`${count(run.done)} of ${count(run.received)} rows`} />
      {count(run.done)} of {count(run.received)}
    </span>
  );
}
