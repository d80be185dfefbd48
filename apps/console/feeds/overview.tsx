import { useQueries } from '@tanstack/react-query';
import { useState } from 'react';
import { answer, server } from '../client/client.ts';
import type { Me, Shop } from '../client/generated/api.ts';
import { currentKey } from '../client/key.ts';
import { useMe, useRecentCases, useShops } from '../client/queries.ts';
import { Answered } from '../shell/answered.tsx';
import { Nothing, Refused, Waiting } from '../shell/states.tsx';
import { inSentence, moment, words } from '../shell/words.ts';

/** Who this key is, how to push, and what came in. */
export function Overview() {
  const me = useMe();
  const shops = useShops();
  return (
    <div className="stack">
      <h1>Feeds</h1>
      <p className="lead">
        Cases come from the programs the shops already use, one request at a time or millions in a file, and may be sent again without
        doubling.
      </p>
      <Answered query={me} what="this key">
        {(known) => (
          <>
            <div className="beside">
              <HowToPush shop={shops.data?.[0]} me={known} />
              <Identity me={known} shops={shops.data ?? []} />
            </div>
            <Arrivals shops={shops.data ?? []} />
          </>
        )}
      </Answered>
    </div>
  );
}

function Identity({ me, shops }: { readonly me: Me; readonly shops: readonly Shop[] }) {
  return (
    <section className="sheet stack" aria-label="This key">
      <h2>This key</h2>
      <dl className="facts">
        <dt>Organisation</dt>
        <dd>{me.organisationName}</dd>
        <dt>Role</dt>
        <dd>{words(me.role)}</dd>
        <dt>Shops</dt>
        <dd>{me.shopIds === null ? 'every shop' : me.shopIds.map((id) => shops.find((shop) => shop.id === id)?.name ?? id).join(', ')}</dd>
        <dt>May</dt>
        <dd>{me.permissions.join(', ')}</dd>
        <dt>Known in the trail as</dt>
        <dd>
          <code>{me.credentialId}</code>
        </dd>
      </dl>
    </section>
  );
}

function HowToPush({ shop, me }: { readonly shop: Shop | undefined; readonly me: Me }) {
  const [shown, show] = useState(false);
  const [copied, setCopied] = useState(false);
  const key = currentKey() ?? '';
  const body = {
    shopCode: shop?.code ?? 'your-shop',
    vehicle: { vin: '1M8GDM9AXKP042788' },
    complaint: 'cools-poorly',
    source: { system: 'my-orders', reference: 'A-1001', revision: 1 },
  };
  const command = (secret: string) =>
    [
      `curl -s '${window.location.origin}/v1/cases'`,
      `-H 'Authorization: Bearer ${secret}'`,
      "-H 'Content-Type: application/json'",
      "-H 'Idempotency-Key: first-order'",
      `-d '${JSON.stringify(body)}'`,
    ].join(' \\\n  ');
  return (
    <section className="sheet stack" aria-label="Push a case">
      <h2>Push a case</h2>
      {me.permissions.includes('cases:write') ? null : (
        <p className="state state-warning">This key may read but not push. An integrator’s key can.</p>
      )}
      <pre>
        <code>{command(shown ? key : `${key.slice(0, 8)}…`)}</code>
      </pre>
      <div className="row">
        <button
          type="button"
          className="primary"
          onClick={async () => {
            await navigator.clipboard.writeText(command(key));
            setCopied(true);
          }}
        >
          Copy it with the key
        </button>
        <button type="button" aria-pressed={shown} onClick={() => show(!shown)}>
          {shown ? 'Hide the key' : 'Show the key'}
        </button>
        {copied ? <span role="status">Copied.</span> : null}
      </div>
      <ul className="bullets">
        <li>The same source reference with the same body changes nothing; a changed order needs a higher revision.</li>
        <li>A lost answer is asked for again with the same Idempotency-Key: it comes back as it was.</li>
        <li>A refusal names the field, what is wrong with it and how to mend it; nothing is half stored.</li>
        <li>The VIN is hashed on arrival. Readings may be left out: orders seldom hold them.</li>
      </ul>
      <p>
        <a href="/docs">Every operation</a> · <a href="/openapi.json">its description for machines</a> ·{' '}
        <a href="/graphiql.html">GraphQL</a> · <a href="/problems">every refusal</a>
      </p>
    </section>
  );
}

function Arrivals({ shops }: { readonly shops: readonly Shop[] }) {
  const pages = useRecentCases();
  const cases = pages.data?.pages.flatMap(({ data }) => data) ?? [];
  // Lists do not carry the source reference: the whole case does.
  const wholes = useQueries({
    queries: cases.map(({ id }) => ({
      queryKey: ['case', id],
      staleTime: 60_000,
      queryFn: () => answer(server.GET('/v1/cases/{id}', { params: { path: { id } } })),
    })),
  });
  return (
    <section className="sheet stack" aria-label="What came in">
      <div className="row spread">
        <h2>What came in, newest first</h2>
        <button type="button" onClick={() => pages.refetch()}>
          Look again
        </button>
      </div>
      {pages.error ? (
        <Refused error={pages.error} what="cases" again={() => pages.refetch()} />
      ) : pages.isPending ? (
        <Waiting what="cases" />
      ) : cases.length === 0 ? (
        <Nothing title="No case came in yet.">Push one with the request above.</Nothing>
      ) : (
        <>
          <div className="table-wrap">
            <table>
              <thead>
                <tr>
                  <th scope="col">Came in</th>
                  <th scope="col">Source</th>
                  <th scope="col">Shop</th>
                  <th scope="col">Complaint</th>
                  <th scope="col">State</th>
                  <th scope="col">Read as</th>
                  <th scope="col">Case</th>
                </tr>
              </thead>
              <tbody>
                {cases.map((one, i) => {
                  const source = wholes[i]?.data?.source;
                  return (
                    <tr key={one.id}>
                      <th scope="row">{moment(one.openedAt)}</th>
                      <td>
                        {source
                          ? `${source.system} ${source.reference}, revision ${source.revision}`
                          : wholes[i]?.data
                            ? 'typed here'
                            : '…'}
                      </td>
                      <td>{shops.find(({ id }) => id === one.shopId)?.name ?? ''}</td>
                      <td>{words(one.complaint)}</td>
                      <td>{words(one.status)}</td>
                      <td>{one.leadingFault ? inSentence(one.leadingFault) : '–'}</td>
                      <td>
                        <a href={`#/bay/case/${one.id}`}>
                          Open<span className="unseen"> the case of {moment(one.openedAt)}</span>
                        </a>
                      </td>
                    </tr>
                  );
                })}
              </tbody>
            </table>
          </div>
          {pages.hasNextPage ? (
            <p>
              <button type="button" onClick={() => pages.fetchNextPage()} disabled={pages.isFetchingNextPage}>
                More
              </button>
            </p>
          ) : null}
        </>
      )}
    </section>
  );
}
