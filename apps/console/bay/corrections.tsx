import { useMutation, useQueryClient } from '@tanstack/react-query';
import { answer, server } from '../client/client.ts';
import { type Case, type Finding, type FindingCode, findingCodeValues, type NewFinding, type Repair } from '../client/generated/api.ts';
import { Choice } from '../shell/choice.tsx';
import { Refused } from '../shell/states.tsx';
import { Sure } from '../shell/sure.tsx';
import { day, inSentence, words } from '../shell/words.ts';
import { TextField } from './fields.tsx';
import { RecordForm, useRecord } from './record.tsx';

const CODES = findingCodeValues.map((code) => [code, words(code)] as const);

/** Writes the findings of a case whole. Somebody else's change in between is refused by its version. */
const written = (found: Case, findings: readonly Finding[]) =>
  answer(
    server.PATCH('/v1/cases/{id}', {
      params: { path: { id: found.id }, header: { 'If-Match': `"${found.version}"` } },
      body: { evidence: { findings: findings.map(({ id: _id, ...finding }): NewFinding => finding) } },
      headers: { 'content-type': 'application/merge-patch+json' },
    }),
  );

/** What was seen, heard or felt; while the case is open each can be corrected or taken out. */
export function Findings({ found, changeable }: { readonly found: Case; readonly changeable: boolean }) {
  const { findings } = found.evidence;
  if (findings.length === 0) return null;
  return (
    <div>
      <strong>Seen:</strong>
      <ul className="bullets">
        {findings.map((finding) => (
          <li key={finding.id}>
            {words(finding.code)}
            {finding.note === undefined ? '' : `: ${finding.note}`}
            {changeable ? <CorrectFinding found={found} finding={finding} /> : null}
          </li>
        ))}
      </ul>
    </div>
  );
}

function CorrectFinding({ found, finding }: { readonly found: Case; readonly finding: Finding }) {
  const { findings } = found.evidence;
  const standing = { code: finding.code as FindingCode, note: finding.note ?? '' };
  const { typed, change, record } = useRecord(`correct-finding.${found.id}.${finding.id}`, standing, ({ code, note }) => {
    const { note: _note, ...rest } = finding;
    const corrected = { ...rest, code, ...(note.trim() === '' ? {} : { note: note.trim() }) };
    return written(
      found,
      findings.map((one) => (one.id === finding.id ? corrected : one)),
    );
  });
  const client = useQueryClient();
  const remove = useMutation({
    mutationFn: () =>
      written(
        found,
        findings.filter(({ id }) => id !== finding.id),
      ),
    onSettled: () => client.invalidateQueries(),
  });
  return (
    <RecordForm
      title="Correct what was seen"
      button="Save the correction"
      ready
      record={record}
      beneath={remove.error ? <Refused error={remove.error} what="its removal" /> : null}
      beside={
        <Sure
          first="It was not seen"
          second="Really take it out"
          of={inSentence(finding.code)}
          busy={remove.isPending}
          act={() => remove.mutate()}
        />
      }
    >
      <div className="form-row">
        <Choice
          label="Seen, heard or felt"
          value={typed.code}
          options={CODES}
          none={null}
          change={(code) => change({ code: code as FindingCode })}
        />
        <TextField label="Note" value={typed.note} max={500} change={(note) => change({ note })} />
      </div>
    </RecordForm>
  );
}

/** A repair that was never done goes, and its episode with it. */
export function RemoveRepair({ found, repair }: { readonly found: Case; readonly repair: Repair }) {
  const client = useQueryClient();
  const remove = useMutation({
    mutationFn: () =>
      answer(
        server.DELETE('/v1/cases/{id}/repairs/{repairId}', {
          params: { path: { id: found.id, repairId: repair.id }, header: { 'If-Match': `"${found.version}"` } },
        }),
      ),
    onSettled: () => client.invalidateQueries(),
  });
  return (
    <>
      <Sure
        first="It was not done"
        second="Really delete it"
        of={`${inSentence(repair.action)} of ${day(repair.day)}`}
        busy={remove.isPending}
        act={() => remove.mutate()}
      />
      {remove.error ? <Refused error={remove.error} what="its removal" /> : null}
    </>
  );
}
