import type { AuditEvent, Me } from '../client/generated/api.ts';
import { useAudit, useMe } from '../client/queries.ts';
import { Answered } from '../shell/answered.tsx';
import type { LongColumn } from '../shell/long-table.tsx';
import { PagedList } from '../shell/paged-list.tsx';
import { Nothing } from '../shell/states.tsx';
import { moment, plural, said, words } from '../shell/words.ts';

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
  { key: 'action', head: 'What', cell: ({ action }) => words(action.replace('.', ' ')) },
  {
    key: 'on',
    head: 'On',
    cell: ({ subjectType, subjectId }) => (
      <>
        {words(subjectType)} <code>{subjectId.slice(-6)}</code>
      </>
    ),
  },
  { key: 'by', head: 'By', cell: ({ credentialId }) => (credentialId === null ? '–' : <code>{credentialId.slice(-6)}</code>) },
  {
    key: 'change',
    head: 'Change',
    cell: ({ change }) => shortened(changeWords(change)),
  },
];

const MOST_LETTERS = 110;
const shortened = (text: string) => (text.length > MOST_LETTERS ? `${text.slice(0, MOST_LETTERS)}…` : text || '–');

/** What changed, field by field: `{"massG":500,"day":"2026-07-02"}` as “mass g: 500, day: 2 Jul 2026”. */
function changeWords(change: string): string {
  const fields: unknown = JSON.parse(change);
  return typeof fields === 'object' && fields !== null ? valueWords(fields) : said(change);
}

function valueWords(value: unknown): string {
  if (Array.isArray(value)) return value.map(valueWords).join(', ');
  if (typeof value !== 'object' || value === null) return said(String(value));
  return Object.entries(value)
    .map(([name, one]) => `${name.replace(/[A-Z]/g, (letter) => ` ${letter.toLowerCase()}`)}: ${valueWords(one)}`)
    .join(', ');
}

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
