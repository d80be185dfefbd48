import { useMutation, useQuery, useQueryClient } from '@tanstack/react-query';
import { type ReactNode, useId, useState } from 'react';
import { answer, Refusal, server } from '../client/client.ts';
import type { Session, SessionPerson } from '../client/generated/api.ts';
import { shareDevice } from '../client/key.ts';
import { useSession } from '../client/queries.ts';
import { KeyEntry, Nothing, Refused, Waiting } from './states.tsx';
import { Typist } from './typist.ts';
import { words } from './words.ts';

/** What stays of another person's answers must not be shown to the next. */
function useSettled() {
  const client = useQueryClient();
  return (session: Session) => {
    client.removeQueries({ predicate: ({ queryKey }) => queryKey[0] !== 'session' });
    client.setQueryData(['session'], session);
  };
}

/** On a shared device nothing is shown before somebody has signed in. */
export function SharedDevice({ children }: { readonly children: ReactNode }) {
  const session = useSession();
  if (session.error instanceof Refusal && session.error.status === 401) {
    return (
      <div className="stack">
        <h1>This device has to be set up again</h1>
        <Nothing title="Its session has ended.">
          Somebody with a key enters it once more; what was typed is still here.
          <KeyEntry label="Key of this device" />
        </Nothing>
      </div>
    );
  }
  if (session.error && !session.data) return <Refused error={session.error} what="this device" again={() => session.refetch()} />;
  if (!session.data) return <Waiting what="who may sign in" />;
  const { person, organisationName } = session.data;
  if (person === null) return <SignIn organisation={organisationName} />;
  // Another person gets pages of their own: nothing that was typed into these goes over.
  return (
    <Typist.Provider key={person.id} value={person.id}>
      {children}
    </Typist.Provider>
  );
}

export function SignOut({ person }: { readonly person: SessionPerson }) {
  const settle = useSettled();
  const client = useQueryClient();
  const leave = useMutation({
    mutationFn: () => answer(server.DELETE('/v1/session/person')),
    // The page goes before the permission does, so that nothing on it is asked for in vain.
    onMutate: () => client.setQueryData<Session>(['session'], (session) => session && { ...session, person: null, permissions: [] }),
    onSuccess: settle,
    onError: () => client.invalidateQueries({ queryKey: ['session'] }),
  });
  return (
    <>
      <span>
        {person.name}, {words(person.role).toLowerCase()}
      </span>
      <button type="button" onClick={() => leave.mutate()}>
        Sign out
      </button>
    </>
  );
}

/** Ends the session of the device itself. */
export function useEndShared() {
  const client = useQueryClient();
  return useMutation({
    mutationFn: () => answer(server.DELETE('/v1/session')),
    onSettled: () => {
      client.clear();
      shareDevice(false);
    },
  });
}

function SignIn({ organisation }: { readonly organisation: string }) {
  const people = useQuery({ queryKey: ['session', 'people'], queryFn: () => answer(server.GET('/v1/session/people')) });
  const [chosen, choose] = useState<SessionPerson | null>(null);
  const end = useEndShared();
  return (
    <div className="stack sign-in">
      <h1>{chosen === null ? 'Who is working?' : chosen.name}</h1>
      {people.error ? (
        <Refused error={people.error} what="who may sign in" again={() => people.refetch()} />
      ) : people.data === undefined ? (
        <Waiting what="the names" />
      ) : chosen !== null ? (
        <PinEntry person={chosen} back={() => choose(null)} />
      ) : people.data.data.length === 0 ? (
        <Nothing title="Nobody can sign in here yet.">
          An administrator of {organisation} gives members a PIN first: in Settings, or with <code>POST /v1/members/…/pin</code>.
        </Nothing>
      ) : (
        <ul className="people">
          {people.data.data.map((person) => (
            <li key={person.id}>
              <button type="button" onClick={() => choose(person)}>
                <strong>{person.name}</strong>
                <span className="quiet">{words(person.role)}</span>
              </button>
            </li>
          ))}
        </ul>
      )}
      <p>
        <button type="button" onClick={() => end.mutate()}>
          This device is not shared any more
        </button>
      </p>
    </div>
  );
}

const DIGITS = ['1', '2', '3', '4', '5', '6', '7', '8', '9'];

function PinEntry({ person, back }: { readonly person: SessionPerson; readonly back: () => void }) {
  const id = useId();
  const [pin, setPin] = useState('');
  const settle = useSettled();
  const signIn = useMutation({
    mutationFn: () => answer(server.POST('/v1/session/person', { body: { memberId: person.id, pin } })),
    onSuccess: settle,
    onError: () => setPin(''),
  });
  const add = (digit: string) => setPin((before) => (before + digit).slice(0, 8));
  return (
    <form
      className="stack pin"
      onSubmit={(event) => {
        event.preventDefault();
        if (pin.length >= 4) signIn.mutate();
      }}
    >
      <div className="field">
        <label htmlFor={id}>PIN, four to eight digits</label>
        <input
          id={id}
          type="password"
          inputMode="numeric"
          autoComplete="off"
          // biome-ignore lint/a11y/noAutofocus: the person has just picked their name and types exactly this
          autoFocus
          value={pin}
          onChange={({ target }) => setPin(target.value.replace(/\D/g, '').slice(0, 8))}
        />
      </div>
      <fieldset className="pad">
        <legend className="unseen">Digits</legend>
        {DIGITS.map((digit) => (
          <button key={digit} type="button" onClick={() => add(digit)}>
            {digit}
          </button>
        ))}
        <button type="button" onClick={() => setPin('')}>
          Clear
        </button>
        <button type="button" onClick={() => add('0')}>
          0
        </button>
        <button type="submit" className="primary" disabled={pin.length < 4 || signIn.isPending}>
          Sign in
        </button>
      </fieldset>
      {signIn.error ? (
        <p role="alert" className="wrong">
          {signIn.error.message}
        </p>
      ) : null}
      <p>
        <button type="button" onClick={back}>
          Somebody else
        </button>
      </p>
    </form>
  );
}
