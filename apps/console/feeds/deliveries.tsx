import { useMemo } from 'react';
import { useDeliveries, useReplayDelivery } from '../client/feed-queries.ts';
import type { Delivery, DeliveryState } from '../client/generated/api.ts';
import type { LongColumn } from '../shell/long-table.tsx';
import { PagedList } from '../shell/paged-list.tsx';
import { Permitted } from '../shell/permitted.tsx';
import { Nothing, Refused } from '../shell/states.tsx';
import { moment, plural } from '../shell/words.ts';

const STATES: Readonly<Record<DeliveryState, string>> = { waiting: 'Waiting', delivered: 'Delivered', 'given-up': 'Given up' };

/** What one address was sent, every try of it, and the way to send an event once more. */
export function Deliveries({ id }: { readonly id: string }) {
  return (
    <div className="stack">
      <p className="no-print">
        <a href="#/feeds/webhooks">All webhooks</a>
      </p>
      <h1>What it was sent</h1>
      <Permitted permission="webhooks:read" what="deliveries">
        {(me) => <DeliveriesOf id={id} mayReplay={me.permissions.includes('webhooks:write')} />}
      </Permitted>
    </div>
  );
}

function DeliveriesOf({ id, mayReplay }: { readonly id: string; readonly mayReplay: boolean }) {
  const pages = useDeliveries(id);
  const replay = useReplayDelivery(id);
  const { mutate, isPending } = replay;
  const columns = useMemo(() => columnsOf(mayReplay, isPending, mutate), [mayReplay, isPending, mutate]);
  return (
    <PagedList
      pages={pages}
      what="the deliveries"
      label="Deliveries"
      nothing={<Nothing title="Nothing was sent yet.">Events from now on are sent here, and stand here with every try.</Nothing>}
      caption={(deliveries) =>
        `${plural(deliveries.length, 'delivery', 'deliveries')} so far, newest first. An event sent again carries the same webhook-id.`
      }
      rowKey={({ id }) => id}
      columns={columns}
      rowHeight={48}
    >
      {replay.error ? <Refused error={replay.error} what="this delivery" /> : null}
    </PagedList>
  );
}

const columnsOf = (mayReplay: boolean, busy: boolean, replay: (id: string) => void): readonly LongColumn<Delivery>[] => [
  { key: 'at', head: 'Raised', kind: 'date', cell: ({ createdAt }) => moment(createdAt) },
  { key: 'kind', head: 'Event', cell: ({ kind }) => kind },
  { key: 'id', head: 'webhook-id', cell: ({ eventId }) => <code>{eventId}</code> },
  {
    key: 'state',
    head: 'State',
    cell: ({ state, nextAt }) => (
      <>
        {state === 'given-up' ? <span className="flag">{STATES[state]}</span> : STATES[state]}
        {state === 'waiting' && nextAt !== null ? `, next try ${moment(nextAt)}` : ''}
      </>
    ),
  },
  {
    key: 'tries',
    head: 'Tries',
    cell: ({ log }) => (
      <ul className="plain">
        {log.map(({ at, status, error, tookMs }) => (
          <li key={at}>
            {moment(at)}: {status ?? error ?? 'no answer'} in {tookMs} ms
          </li>
        ))}
      </ul>
    ),
  },
  {
    key: 'do',
    head: 'Do',
    cell: ({ id, kind, state }) =>
      mayReplay && state !== 'waiting' ? (
        <button type="button" className="small" disabled={busy} onClick={() => replay(id)}>
          Send again<span className="unseen"> {kind}</span>
        </button>
      ) : (
        '–'
      ),
  },
];
