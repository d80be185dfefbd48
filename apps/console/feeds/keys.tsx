import { useMemo, useState } from 'react';
import { useKeyActions, useKeys } from '../client/feed-queries.ts';
import type { Key, Me, Shop } from '../client/generated/api.ts';
import { useShops } from '../client/queries.ts';
import { NewOne } from '../settings/new-one.tsx';
import { Choice } from '../shell/choice.tsx';
import type { LongColumn } from '../shell/long-table.tsx';
import { PagedList } from '../shell/paged-list.tsx';
import { Permitted } from '../shell/permitted.tsx';
import { Secret } from '../shell/secret.tsx';
import { shopsInWords } from '../shell/shop-names.ts';
import { Nothing, Refused } from '../shell/states.tsx';
import { Sure } from '../shell/sure.tsx';
import { moment, plural, words } from '../shell/words.ts';
import { Usage } from './usage.tsx';

const OVERLAPS = [
  ['0', 'ends at once'],
  ['24', 'goes on for a day'],
  ['168', 'goes on for a week'],
] as const;

/** Keys: made, rotated, revoked, and how much each asks for. */
export function Keys() {
  return (
    <div className="stack">
      <h1>Keys and their use</h1>
      <p className="lead">
        One key for each program, no wider than it needs. A secret is shown once; a lost one is revoked and made again.
      </p>
      <Usage />
      <Permitted permission="keys:read" what="the keys of others">
        {(me) => <KeysOf me={me} />}
      </Permitted>
    </div>
  );
}

function KeysOf({ me }: { readonly me: Me }) {
  const pages = useKeys(true);
  const shops = useShops();
  const { issue, rotate, revoke } = useKeyActions();
  const [secret, keep] = useState<string | null>(null);
  const [overlap, setOverlap] = useState<(typeof OVERLAPS)[number][0]>('24');
  const mayWrite = me.permissions.includes('keys:write');
  const error = issue.error ?? rotate.error ?? revoke.error;
  const busy = rotate.isPending || revoke.isPending;
  const rotateKey = rotate.mutate;
  const revokeKey = revoke.mutate;
  const columns = useMemo(
    () =>
      columnsOf(shops.data ?? [], me.credentialId, mayWrite, busy, {
        rotate: (id) => rotateKey({ id, overlapHours: Number(overlap) }, { onSuccess: (made) => keep(made.secret) }),
        revoke: revokeKey,
      }),
    [shops.data, me.credentialId, mayWrite, busy, rotateKey, revokeKey, overlap],
  );
  return (
    <>
      {secret === null ? null : <Secret title="The new key" secret={secret} done={() => keep(null)} />}
      {error ? <Refused error={error} what="this key" /> : null}
      {mayWrite ? (
        <NewOne
          title="Make a key"
          nameLabel="What it is for"
          button="Make it"
          usual="integrator"
          shops={shops.data ?? []}
          busy={issue.isPending}
          make={(name, role, shopId) =>
            issue.mutate(
              { name, role, shopIds: shopId === '' ? null : [shopId], expiresAt: null },
              { onSuccess: (made) => keep(made.secret) },
            )
          }
        />
      ) : null}
      <PagedList
        pages={pages}
        what="the keys"
        label="Keys"
        nothing={<Nothing title="There is no key.">Make one above.</Nothing>}
        caption={(keys) => `${plural(keys.length, 'key')} so far, oldest first.`}
        rowKey={({ id }) => id}
        columns={columns}
        rowHeight={44}
      >
        {mayWrite ? (
          <Choice
            label="When a key is rotated, the old one"
            value={overlap}
            options={OVERLAPS}
            none={null}
            change={(value) => value !== '' && setOverlap(value)}
          />
        ) : null}
      </PagedList>
    </>
  );
}

interface KeyActions {
  readonly rotate: (id: string) => void;
  readonly revoke: (id: string) => void;
}

const columnsOf = (
  shops: readonly Shop[],
  own: string,
  mayWrite: boolean,
  busy: boolean,
  actions: KeyActions,
): readonly LongColumn<Key>[] => [
  {
    key: 'name',
    head: 'Key',
    kind: 'head',
    cell: ({ id, name, hint }) => (
      <>
        {name} <code>…{hint}</code> {id === own ? <span className="flag">this one</span> : null}
      </>
    ),
  },
  { key: 'role', head: 'Role', cell: ({ role, permissions }) => `${words(role)}, ${plural(permissions.length, 'permission')}` },
  {
    key: 'shops',
    head: 'Shops',
    cell: ({ shopIds }) => shopsInWords(shops, shopIds),
  },
  { key: 'made', head: 'Made', cell: ({ createdAt }) => moment(createdAt) },
  { key: 'used', head: 'Last used', cell: ({ lastUsedAt }) => (lastUsedAt === null ? 'never' : moment(lastUsedAt)) },
  {
    key: 'state',
    head: 'State',
    cell: ({ revokedAt, expiresAt }) =>
      revokedAt !== null
        ? `revoked ${moment(revokedAt)}`
        : expiresAt === null
          ? 'works'
          : new Date(expiresAt) < new Date()
            ? `ended ${moment(expiresAt)}`
            : `works until ${moment(expiresAt)}`,
  },
  {
    key: 'do',
    head: 'Do',
    cell: ({ id, name, revokedAt }) =>
      mayWrite && revokedAt === null ? (
        <div className="row">
          <Sure first="Rotate" second="Really rotate" of={name} busy={busy} act={() => actions.rotate(id)} />
          {id === own ? null : <Sure first="Revoke" second="Really revoke" of={name} busy={busy} act={() => actions.revoke(id)} />}
        </div>
      ) : (
        '–'
      ),
  },
];
