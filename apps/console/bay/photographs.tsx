import { useMutation, useQuery, useQueryClient } from '@tanstack/react-query';
import { useEffect, useId, useRef, useState } from 'react';
import { answer, server } from '../client/client.ts';
import { type Photograph, type PhotographSubject, photographSubjectValues, type ReadingStage } from '../client/generated/api.ts';
import { Answered } from '../shell/answered.tsx';
import { Choice } from '../shell/choice.tsx';
import { Refused } from '../shell/states.tsx';
import { Sure } from '../shell/sure.tsx';
import { inSentence, moment, words } from '../shell/words.ts';
import { TextField } from './fields.tsx';
import { RecordForm, useRecord } from './record.tsx';
import { shrunk } from './shrink.ts';

const STAGES: readonly (readonly [ReadingStage, string])[] = [
  ['before', 'before the repair'],
  ['after', 'after the repair'],
];

interface Props {
  readonly caseId: string;
  /** Whether this key may add and remove. */
  readonly changeable: boolean;
}

/** Photographs of a case: what came out of the car, for whoever opens the case later. */
export function Photographs({ caseId, changeable }: Props) {
  const list = useQuery({
    queryKey: ['photographs', caseId],
    queryFn: () => answer(server.GET('/v1/cases/{id}/photographs', { params: { path: { id: caseId } } })),
  });
  return (
    <>
      <section className="sheet stack" aria-label="Photographs">
        <h2>Photographs</h2>
        <Answered query={list} what="the photographs">
          {({ data }) =>
            data.length === 0 ? (
              <p className="quiet">None yet. A cartridge, desiccant or oil photographed as it came out proves more than a word.</p>
            ) : (
              <ul className="photographs">
                {data.map((photograph) => (
                  <Shown key={photograph.id} photograph={photograph} changeable={changeable} />
                ))}
              </ul>
            )
          }
        </Answered>
      </section>
      {changeable ? <AddPhotograph caseId={caseId} /> : null}
    </>
  );
}

const nameOf = ({ subject, stage }: Photograph) => `${words(subject)}, ${stage === 'after' ? 'after' : 'before'} the repair`;

/** The address of a picture while it is shown: it comes with the key of the asker and stays in this page. */
function usePicture({ id, caseId }: Photograph) {
  const [address, setAddress] = useState<string | null>(null);
  const fetched = useQuery({
    queryKey: ['photograph', id],
    // The bytes behind an identifier never change.
    staleTime: Number.POSITIVE_INFINITY,
    queryFn: () =>
      answer(
        server.GET('/v1/cases/{id}/photographs/{photographId}', { params: { path: { id: caseId, photographId: id } }, parseAs: 'blob' }),
      ),
  });
  useEffect(() => {
    if (!fetched.data) return;
    const made = URL.createObjectURL(fetched.data);
    setAddress(made);
    return () => URL.revokeObjectURL(made);
  }, [fetched.data]);
  return { address, error: fetched.error, refetch: fetched.refetch };
}

function Shown({ photograph, changeable }: { readonly photograph: Photograph; readonly changeable: boolean }) {
  const { id, caseId, caption, widthPx, heightPx, createdAt } = photograph;
  const client = useQueryClient();
  const { address, error, refetch } = usePicture(photograph);
  const large = useRef<HTMLDialogElement>(null);
  const remove = useMutation({
    mutationFn: () =>
      answer(server.DELETE('/v1/cases/{id}/photographs/{photographId}', { params: { path: { id: caseId, photographId: id } } })),
    onSettled: () => client.invalidateQueries({ queryKey: ['photographs', caseId] }),
  });
  const name = nameOf(photograph);
  const alt = caption ? `${name}: ${caption}` : name;
  return (
    <li>
      <figure className="stack tight">
        {error ? (
          <Refused error={error} what="this photograph" again={() => refetch()} />
        ) : address === null ? (
          <span className="photograph-place" role="status">
            Fetching the picture…
          </span>
        ) : (
          <button type="button" className="photograph" onClick={() => large.current?.showModal()}>
            <img src={address} alt={alt} width={widthPx} height={heightPx} />
            <span className="unseen">Show it large</span>
          </button>
        )}
        <figcaption>
          <strong>{name}</strong> {caption ? `${caption} ` : ''}
          <small>{moment(createdAt)}</small>
        </figcaption>
      </figure>
      {changeable ? (
        <Sure first="Remove" second="Really remove it" of={inSentence(name)} busy={remove.isPending} act={() => remove.mutate()} />
      ) : null}
      {remove.error ? <Refused error={remove.error} what="its removal" /> : null}
      <dialog ref={large} aria-label={alt} className="photograph-large">
        {address === null ? null : <img src={address} alt={alt} />}
        <button type="button" onClick={() => large.current?.close()}>
          Close
        </button>
      </dialog>
    </li>
  );
}

const EMPTY = { subject: '' as PhotographSubject | '', stage: 'before' as ReadingStage | '', caption: '', data: '' };

function AddPhotograph({ caseId }: { readonly caseId: string }) {
  const id = useId();
  const [wrong, setWrong] = useState<string | null>(null);
  const { typed, change, record } = useRecord(`photograph.${caseId}`, EMPTY, ({ subject, stage, caption, data }, key) =>
    answer(
      server.POST('/v1/cases/{id}/photographs', {
        params: { path: { id: caseId }, header: { 'Idempotency-Key': key } },
        body: {
          subject: subject as PhotographSubject,
          ...(stage === 'after' ? { stage } : {}),
          ...(caption.trim() === '' ? {} : { caption: caption.trim() }),
          data,
        },
      }),
    ),
  );
  const take = async (file: File) => {
    const data = await shrunk(file);
    setWrong(data === null ? 'This browser cannot read that file as a picture. A JPEG, PNG or WebP is needed.' : null);
    if (data !== null) change({ data });
  };
  return (
    <RecordForm title="Add a photograph" button="Add the photograph" ready={typed.subject !== '' && typed.data !== ''} record={record}>
      <small>
        It is scaled down here before it is sent, and leaves place and camera behind. Keep plates and people out of the picture.
      </small>
      <div className="form-row">
        <div className="field">
          <label htmlFor={`${id}-file`}>Picture</label>
          <input
            id={`${id}-file`}
            type="file"
            accept="image/jpeg,image/png,image/webp"
            aria-describedby={wrong ? `${id}-wrong` : undefined}
            onChange={async ({ target }) => {
              const file = target.files?.[0];
              if (file) await take(file);
              target.value = '';
            }}
          />
        </div>
        <Choice
          label="Shows"
          value={typed.subject}
          options={photographSubjectValues.map((code) => [code, words(code)] as const)}
          none="choose"
          change={(subject) => change({ subject })}
        />
        <Choice label="Taken" value={typed.stage} options={STAGES} none={null} change={(stage) => change({ stage })} />
        <TextField label="Caption" value={typed.caption} max={300} change={(caption) => change({ caption })} />
      </div>
      {wrong ? (
        <p role="alert" className="wrong" id={`${id}-wrong`}>
          {wrong}
        </p>
      ) : null}
      {typed.data === '' ? null : (
        <div className="row">
          <img className="photograph-draft" src={`data:image/jpeg;base64,${typed.data}`} alt="As it will be sent" />
          <button type="button" className="small" onClick={() => change({ data: '' })}>
            Take another
          </button>
        </div>
      )}
    </RecordForm>
  );
}
