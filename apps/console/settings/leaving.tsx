import { type FormEvent, useId, useState } from 'react';
import type { Me } from '../client/generated/api.ts';
import { useMe } from '../client/queries.ts';
import { everyCase, useForgetVehicle, useVehicleLookup, wholeOrganisation } from '../client/settings-queries.ts';
import { Answered } from '../shell/answered.tsx';
import { downloadBlob } from '../shell/csv.ts';
import { Refused } from '../shell/states.tsx';
import { Sure } from '../shell/sure.tsx';

/** Taking everything along, and having a car or the whole organisation forgotten. */
export function Leaving() {
  return (
    <div className="stack">
      <h1>Export and deletion</h1>
      <p className="lead">What is yours stays yours: all of it goes out in open formats, and what must be forgotten is forgotten.</p>
      <Answered query={useMe()} what="who this key is">
        {(me) => (
          <>
            <Export me={me} />
            <Forget me={me} />
            <section className="sheet stack" aria-label="The whole organisation">
              <h2>Deleting the whole organisation</h2>
              <p>
                Every row in every table. That is done at the server, by someone with the database owner’s role, and cannot be undone:
                export first.
              </p>
              <pre>
                <code>coolback erase {me.organisationId} --yes</code>
              </pre>
            </section>
          </>
        )}
      </Answered>
    </div>
  );
}

const SHORTEST_PASSPHRASE = 12;

function Export({ me }: { readonly me: Me }) {
  const id = useId();
  const [passphrase, setPassphrase] = useState('');
  const [state, setState] = useState<'idle' | 'busy' | 'done'>('idle');
  const [error, setError] = useState<unknown>(null);
  const tooShort = passphrase !== '' && passphrase.length < SHORTEST_PASSPHRASE;
  const fetchIt = async (blob: () => Promise<Blob>, name: string) => {
    setState('busy');
    setError(null);
    try {
      downloadBlob(name, await blob());
      setState('done');
    } catch (refusal) {
      setError(refusal);
      setState('idle');
    }
  };
  const whole = (event: FormEvent) => {
    event.preventDefault();
    if (!tooShort) void fetchIt(() => wholeOrganisation(passphrase), 'organisation.ndjson');
  };
  const mayExport = me.permissions.includes('organisation:export');
  return (
    <section className="sheet stack" aria-label="Export">
      <h2>Export</h2>
      <form className="stack" onSubmit={whole}>
        <p>
          Every row of the organisation as NDJSON, format and version first, the counts last. With a passphrase the key of the hashes comes
          along, so that cars are known again elsewhere; keys, webhooks and stored answers stay behind, because they hold secrets.
        </p>
        {mayExport ? (
          <div className="form-row">
            <div className="field">
              <label htmlFor={id}>Passphrase, twelve characters or more (none: without the key)</label>
              <input
                id={id}
                type="password"
                autoComplete="new-password"
                value={passphrase}
                aria-invalid={tooShort}
                onChange={({ target }) => setPassphrase(target.value)}
              />
            </div>
            <button type="submit" className="primary" disabled={state === 'busy' || tooShort}>
              Export everything
            </button>
          </div>
        ) : (
          <p className="state state-warning">
            This key may not export the organisation: it needs the permission organisation:export, which administrators have.
          </p>
        )}
      </form>
      <div className="row">
        <button type="button" disabled={state === 'busy'} onClick={() => fetchIt(everyCase, 'cases.csv')}>
          The list of cases as CSV
        </button>
        <span role="status">{state === 'busy' ? 'On its way…' : state === 'done' ? 'It is in your downloads.' : ''}</span>
      </div>
      {error ? <Refused error={error} what="the export" /> : null}
      <small>
        The browser holds the file before it saves it. For millions of cases use the command line, which streams:{' '}
        <code>coolback export all.ndjson</code>
      </small>
    </section>
  );
}

function Forget({ me }: { readonly me: Me }) {
  const id = useId();
  const lookup = useVehicleLookup();
  const forget = useForgetVehicle();
  const [vin, setVin] = useState('');
  const find = (event: FormEvent) => {
    event.preventDefault();
    forget.reset();
    lookup.mutate(vin.trim());
  };
  if (!me.permissions.includes('vehicles:delete')) {
    return (
      <section className="sheet stack" aria-label="Forget a car">
        <h2>Having a car forgotten</h2>
        <p>This key may not do that: it needs the permission vehicles:delete.</p>
      </section>
    );
  }
  return (
    <section className="sheet stack" aria-label="Forget a car">
      <h2>Having a car forgotten</h2>
      <p>
        Its hashes and sightings go, and which cases and repairs were its. The cases stay without it, so that figures do not move. Words
        people typed and order numbers stay too; rows refused by an import may name it for thirty days, backups until they are discarded.
      </p>
      <form className="form-row" onSubmit={find}>
        <div className="field">
          <label htmlFor={id}>VIN</label>
          <input id={id} value={vin} maxLength={20} autoComplete="off" spellCheck={false} onChange={({ target }) => setVin(target.value)} />
        </div>
        <button type="submit" disabled={vin.trim().length < 5 || lookup.isPending}>
          Find
        </button>
      </form>
      {lookup.error ? <Refused error={lookup.error} what="this car" /> : null}
      {lookup.data && !forget.isSuccess ? (
        <div className="row">
          <span>The car is known here.</span>
          <a href={`#/bay/vehicle/${lookup.data.id}`}>See its history</a>
          <Sure
            first="Forget it"
            second="Really forget it: this cannot be undone"
            of="the car"
            busy={forget.isPending}
            act={() => forget.mutate(lookup.data.id)}
          />
        </div>
      ) : null}
      {forget.isSuccess ? <p role="status">The car is forgotten.</p> : null}
      {forget.error ? <Refused error={forget.error} what="this car" /> : null}
    </section>
  );
}
