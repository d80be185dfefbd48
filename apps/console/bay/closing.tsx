import { answer, server } from '../client/client.ts';
import { type Case, type ClosureOutcome, closureOutcomeValues } from '../client/generated/api.ts';
import { Choice } from '../shell/choice.tsx';
import { words } from '../shell/words.ts';
import { TextField } from './fields.tsx';
import { RecordForm, useRecord } from './record.tsx';

/** Closes a case: it can be read and counted, and no longer amended. */
export function CloseCase({ found }: { readonly found: Case }) {
  const empty = { outcome: (found.repairs.length > 0 ? 'repaired' : '') as ClosureOutcome | '', note: '' };
  const { typed, change, record } = useRecord(`closing.${found.id}`, empty, ({ outcome, note }) =>
    answer(
      server.POST('/v1/cases/{id}/closure', {
        params: { path: { id: found.id }, header: { 'If-Match': `"${found.version}"` } },
        body: { outcome: outcome as ClosureOutcome, ...(note.trim() === '' ? {} : { note: note.trim() }) },
      }),
    ),
  );
  return (
    <RecordForm title="Close the case" button="Close it" ready={typed.outcome !== ''} record={record}>
      <small>A closed case takes no more readings or offers; a cause or a repair can still be recorded.</small>
      <div className="form-row">
        <Choice
          label="How it ended"
          value={typed.outcome}
          options={closureOutcomeValues.map((code) => [code, words(code)] as const)}
          none="choose"
          change={(outcome) => change({ outcome })}
        />
        <TextField label="Note" value={typed.note} max={1000} change={(note) => change({ note })} />
      </div>
    </RecordForm>
  );
}
