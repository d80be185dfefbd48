import { type FormEvent, useId, useState } from 'react';
import { useWebhookActions, useWebhooks } from '../client/feed-queries.ts';
import type { EventKind, Webhook } from '../client/generated/api.ts';
import { eventKindValues } from '../client/generated/api.ts';
import { Answered } from '../shell/answered.tsx';
import { Heads } from '../shell/heads.tsx';
import { Permitted } from '../shell/permitted.tsx';
import { Secret } from '../shell/secret.tsx';
import { Nothing, Refused } from '../shell/states.tsx';
import { Sure } from '../shell/sure.tsx';
import { moment } from '../shell/words.ts';

/** Addresses that are told of events. */
export function Webhooks() {
  return (
    <div className="stack">
      <h1>Webhooks</h1>
      <p className="lead">
        Addresses of yours that are told what happens: signed, tried again for days, the same event at most once handled if you keep its
        webhook-id.
      </p>
      <Permitted permission="webhooks:read" what="webhooks">
        {(me) => <WebhooksOf mayWrite={me.permissions.includes('webhooks:write')} />}
      </Permitted>
    </div>
  );
}

function WebhooksOf({ mayWrite }: { readonly mayWrite: boolean }) {
  const webhooks = useWebhooks();
  const actions = useWebhookActions();
  const [secret, keep] = useState<string | null>(null);
  const error = actions.create.error ?? actions.remove.error ?? actions.enable.error ?? actions.rotate.error;
  const busy = actions.remove.isPending || actions.enable.isPending || actions.rotate.isPending;
  return (
    <>
      {secret === null ? null : <Secret title="The signing secret" secret={secret} done={() => keep(null)} />}
      {error ? <Refused error={error} what="this webhook" /> : null}
      {mayWrite ? (
        <NewAddress
          busy={actions.create.isPending}
          add={(url, kinds) => actions.create.mutate({ url, kinds }, { onSuccess: (made) => keep(made.secret) })}
        />
      ) : null}
      <Answered query={webhooks} what="the webhooks">
        {({ data }) =>
          data.length === 0 ? (
            <Nothing title="No address is told of events yet.">Add one above; it must be https on the public internet.</Nothing>
          ) : (
            <section className="sheet" aria-label="Addresses">
              <div className="table-wrap">
                <table className="chooser">
                  <caption>Open one for what it was sent.</caption>
                  <Heads of={[['Address'], ['Is told of'], ['State'], ['Added'], ['Do']]} />
                  <tbody>
                    {data.map((one) => (
                      <tr key={one.id}>
                        <th scope="row">
                          <a href={`#/feeds/webhooks/${one.id}`}>{one.url}</a>
                        </th>
                        <td>{one.kinds.length === 0 ? 'everything' : one.kinds.join(', ')}</td>
                        <td>
                          <WebhookState webhook={one} />
                        </td>
                        <td>{moment(one.createdAt)}</td>
                        <td>
                          {mayWrite ? (
                            <div className="row">
                              {one.enabled ? null : (
                                <button type="button" className="small" disabled={busy} onClick={() => actions.enable.mutate(one.id)}>
                                  Enable<span className="unseen"> {one.url}</span>
                                </button>
                              )}
                              <Sure
                                first="New secret"
                                second="Really: both sign for a day"
                                of={`for ${one.url}`}
                                busy={busy}
                                act={() => actions.rotate.mutate(one.id, { onSuccess: (made) => keep(made.secret) })}
                              />
                              <Sure
                                first="Remove"
                                second="Really remove"
                                of={one.url}
                                busy={busy}
                                act={() => actions.remove.mutate(one.id)}
                              />
                            </div>
                          ) : (
                            '–'
                          )}
                        </td>
                      </tr>
                    ))}
                  </tbody>
                </table>
              </div>
            </section>
          )
        }
      </Answered>
    </>
  );
}

function WebhookState({ webhook }: { readonly webhook: Webhook }) {
  if (!webhook.enabled) {
    return (
      <>
        <span className="flag">disabled</span> {webhook.disabledWhy}
      </>
    );
  }
  return webhook.previousSecretUntil === null ? (
    <>enabled</>
  ) : (
    <>enabled; the old secret signs too until {moment(webhook.previousSecretUntil)}</>
  );
}

function NewAddress({ busy, add }: { readonly busy: boolean; readonly add: (url: string, kinds: EventKind[]) => void }) {
  const id = useId();
  const [url, setUrl] = useState('');
  const [kinds, setKinds] = useState<readonly EventKind[]>([]);
  const submit = (event: FormEvent) => {
    event.preventDefault();
    add(url.trim(), [...kinds]);
  };
  return (
    <form className="sheet stack" onSubmit={submit} aria-label="Add an address">
      <h2>Add an address</h2>
      <div className="field">
        <label htmlFor={id}>Address</label>
        <input id={id} type="url" value={url} placeholder="https://…" onChange={({ target }) => setUrl(target.value)} />
      </div>
      <fieldset className="part">
        <legend>Told of (everything when none is chosen)</legend>
        <div className="chips">
          {eventKindValues.map((kind) => (
            <label className="chip" key={kind}>
              <input
                type="checkbox"
                checked={kinds.includes(kind)}
                onChange={({ target }) => setKinds(target.checked ? [...kinds, kind] : kinds.filter((one) => one !== kind))}
              />
              {kind}
            </label>
          ))}
        </div>
      </fieldset>
      <div className="row">
        <button type="submit" className="primary" disabled={busy || url.trim() === ''}>
          Add it
        </button>
      </div>
    </form>
  );
}
