import type { AuditEvent, Me } from '../client/generated/api.ts';
import { useAudit, useMe } from '../client/queries.ts';
import { Answered } from '../shell/answered.tsx';
import type { LongColumn } from '../shell/long-table.tsx';
import { PagedList } from '../shell/paged-list.tsx';
import { Nothing } from '../shell/states.tsx';
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
  { key: 'at', head: 'When', kind: 'date', cell: ({ at }) => moment(at) },
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
  if (!permitted)
    return (
      <Nothing title="This key may not read the trail.">
        It needs the permission audit:read, which keys of directors and administrators have.
      </Nothing>
    );
  return (
    <PagedList
      pages={pages}
      what="the trail"
      label="Who did what"
      nothing={<Nothing title="Nothing was done yet.">Every change from now on stands here.</Nothing>}
      caption={(events) => `${plural(events.length, 'change')} so far, newest first.`}
      rowKey={({ id }) => id}
      columns={COLUMNS}
      rowHeight={37}
    />
  );
}
