import { useMemo, useState } from 'react';
import type { CaseSummary, Me, Shop } from '../client/generated/api.ts';
import { currentKey } from '../client/key.ts';
import { useCase, useMe, useRecentCases, useShops } from '../client/queries.ts';
import { Answered } from '../shell/answered.tsx';
import type { LongColumn } from '../shell/long-table.tsx';
import { PagedList } from '../shell/paged-list.tsx';
import { nameOfShop, shopsInWords } from '../shell/shop-names.ts';
import { Nothing } from '../shell/states.tsx';
import { inSentence, moment, plural, words } from '../shell/words.ts';

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
        <dd>{shopsInWords(shops, me.shopIds)}</dd>
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

/** Another order than the one that `npm start` prints, so that whoever has sent that one can send this too. */
function HowToPush({ shop, me }: { readonly shop: Shop | undefined; readonly me: Me }) {
  const [shown, show] = useState(false);
  const [copied, setCopied] = useState(false);
  const key = currentKey() ?? '';
  const body = {
    shopCode: shop?.code ?? 'your-shop',
    vehicle: { vin: '1M8GDM9AXKP042788' },
    complaint: 'cools-poorly',
    source: { system: 'my-orders', reference: 'A-1002', revision: 1 },
  };
  const command = (secret: string) =>
    [
      `curl -s '${window.location.origin}/v1/cases'`,
      `-H 'Authorization: Bearer ${secret}'`,
      "-H 'Content-Type: application/json'",
      "-H 'Idempotency-Key: second-order'",
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
  const columns = useMemo(() => columnsOf(shops), [shops]);
  return (
    <section className="sheet stack" aria-label="What came in">
      <div className="row spread">
        <h2>What came in, newest first</h2>
        <button type="button" onClick={() => pages.refetch()}>
          Look again
        </button>
      </div>
      <PagedList
        pages={pages}
        what="cases"
        nothing={<Nothing title="No case came in yet.">Push one with the request above.</Nothing>}
        caption={(rows) => `${plural(rows.length, 'case')} so far.`}
        rowKey={({ id }) => id}
        columns={columns}
        rowHeight={37}
      />
    </section>
  );
}

const columnsOf = (shops: readonly Shop[]): readonly LongColumn<CaseSummary>[] => [
  { key: 'at', head: 'Came in', kind: 'date', cell: ({ openedAt }) => moment(openedAt) },
  { key: 'source', head: 'Source', cell: ({ id }) => <SourceOf id={id} /> },
  { key: 'shop', head: 'Shop', cell: ({ shopId }) => nameOfShop(shops, shopId) },
  { key: 'complaint', head: 'Complaint', cell: ({ complaint }) => words(complaint) },
  { key: 'state', head: 'State', cell: ({ status }) => words(status) },
  { key: 'fault', head: 'Read as', cell: ({ leadingFault }) => (leadingFault ? inSentence(leadingFault) : '–') },
  {
    key: 'open',
    head: 'Case',
    cell: ({ id, openedAt }) => (
      <a href={`#/bay/case/${id}`}>
        Open<span className="unseen"> the case of {moment(openedAt)}</span>
      </a>
    ),
  },
];

/** Lists do not carry the source reference: the whole case does. */
function SourceOf({ id }: { readonly id: string }) {
  const { data } = useCase(id);
  if (!data) return <>…</>;
  return <>{data.source ? `${data.source.system} ${data.source.reference}, revision ${data.source.revision}` : 'typed here'}</>;
}
