import type { AuditEvent, Me } from '../client/generated/api.ts';
import { useAudit, useMe } from '../client/queries.ts';
import { Answered } from '../shell/answered.tsx';
import { type LongColumn, LongTable } from '../shell/long-table.tsx';
import { Nothing, Refused, Waiting } from '../shell/states.tsx';
import { moment, plural } from '../shell/words.ts';

/** Who did what, newest first. */
export function Trail() {
  return (
    <div className="stack">
      <h1>Who did what</h1>
      <Answered query={useMe()} what="this key">
        {(me) => <TrailOf me={me} />}
      </Answered>
    </div>
  );
}

const COLUMNS: readonly LongColumn<AuditEvent>[] = [
  { key: 'at', head: 'When', kind: 'head', cell: ({ at }) => moment(at) },
  { key: 'action', head: 'What', cell: ({ action }) => action },
  {
    key: 'on',
    head: 'On',
    cell: ({ subjectType, subjectId }) => (
      <>
        {subjectType} <code>{subjectId.slice(-6)}</code>
      </>
    ),
  },
  { key: 'by', head: 'By', cell: ({ credentialId }) => (credentialId === null ? '–' : <code>{credentialId.slice(-6)}</code>) },
  {
    key: 'change',
    head: 'Change',
    cell: ({ change }) => <code>{change.length > 90 ? `${change.slice(0, 90)}…` : change}</code>,
  },
];

function TrailOf({ me }: { readonly me: Me }) {
  const permitted = me.permissions.includes('audit:read');
  const pages = useAudit(permitted);
  const events = pages.data?.pages.flatMap(({ data }) => data) ?? [];
  if (!permitted)
    return (
      <Nothing title="This key may not read the trail.">
        It needs the permission audit:read, which keys of directors and administrators have.
      </Nothing>
    );
  if (pages.error) return <Refused error={pages.error} what="the trail" again={() => pages.refetch()} />;
  if (pages.isPending) return <Waiting what="the trail" />;
  if (events.length === 0) return <Nothing title="Nothing was done yet.">Every change from now on stands here.</Nothing>;
  return (
    <section className="sheet" aria-label="Who did what">
      <LongTable
        caption={`${plural(events.length, 'change')} so far, newest first.`}
        rows={events}
        rowKey={({ id }) => id}
        rowHeight={37}
        columns={COLUMNS}
        more={{ has: pages.hasNextPage, fetching: pages.isFetchingNextPage, fetch: pages.fetchNextPage }}
      />
    </section>
  );
}
