import { type FormEvent, useId, useMemo, useState } from 'react';
import type { Member, Role, Shop } from '../client/generated/api.ts';
import { roleValues } from '../client/generated/api.ts';
import { useShops } from '../client/queries.ts';
import { useMemberActions, useMembers } from '../client/settings-queries.ts';
import type { LongColumn } from '../shell/long-table.tsx';
import { PagedList } from '../shell/paged-list.tsx';
import { Permitted } from '../shell/permitted.tsx';
import { shopsInWords } from '../shell/shop-names.ts';
import { Nothing, Refused } from '../shell/states.tsx';
import { Sure } from '../shell/sure.tsx';
import { day, plural, words } from '../shell/words.ts';
import { NewOne } from './new-one.tsx';

const ROLES = roleValues.map((code) => [code, words(code)] as const);

/** People of the organisation: what they are, and the PIN with which they sign in at shared devices. */
export function Members() {
  return (
    <div className="stack">
      <h1>Members</h1>
      <p className="lead">People who work here. At a shared tablet they pick their name and type their PIN; programs have keys instead.</p>
      <Permitted permission="members:read" what="members">
        {(me) => <MembersOf mayWrite={me.permissions.includes('members:write')} />}
      </Permitted>
    </div>
  );
}

function MembersOf({ mayWrite }: { readonly mayWrite: boolean }) {
  const pages = useMembers();
  const shops = useShops();
  const { add, change, setPin, takePin } = useMemberActions();
  const [pinOf, askPin] = useState<Member | null>(null);
  const busy = change.isPending || takePin.isPending;
  const changeMember = change.mutate;
  const dropPin = takePin.mutate;
  const columns = useMemo(
    () =>
      columnsOf(shops.data ?? [], mayWrite, busy, {
        role: ({ id, version }, role) => changeMember({ id, version, body: { role } }),
        active: ({ id, version }, active) => changeMember({ id, version, body: { active } }),
        setPin: askPin,
        takePin: ({ id }) => dropPin(id),
      }),
    [shops.data, mayWrite, busy, changeMember, dropPin],
  );
  const error = add.error ?? change.error ?? setPin.error ?? takePin.error;
  return (
    <>
      {mayWrite ? (
        <NewOne
          title="Add a person"
          nameLabel="Name"
          button="Add"
          usual="technician"
          shops={shops.data ?? []}
          busy={add.isPending}
          make={(name, role, shopId) => add.mutate({ name, role, shopIds: shopId === '' ? null : [shopId] })}
        />
      ) : null}
      {error ? <Refused error={error} what="this person" /> : null}
      {pinOf === null ? null : (
        <PinForm
          key={pinOf.id}
          member={pinOf}
          busy={setPin.isPending}
          done={() => askPin(null)}
          set={(pin) => setPin.mutate({ id: pinOf.id, pin }, { onSuccess: () => askPin(null) })}
        />
      )}
      <PagedList
        pages={pages}
        what="members"
        label="People"
        nothing={
          <Nothing title="Nobody is listed yet.">
            {mayWrite ? 'Add the people who work at shared tablets above.' : 'Ask an administrator to add people.'}
          </Nothing>
        }
        caption={(members) => plural(members.length, 'person', 'people')}
        rowKey={({ id }) => id}
        columns={columns}
        rowHeight={48}
      />
    </>
  );
}

interface Actions {
  readonly role: (member: Member, role: Role) => void;
  readonly active: (member: Member, active: boolean) => void;
  readonly setPin: (member: Member) => void;
  readonly takePin: (member: Member) => void;
}

const columnsOf = (shops: readonly Shop[], mayWrite: boolean, busy: boolean, actions: Actions): readonly LongColumn<Member>[] => [
  { key: 'name', head: 'Name', kind: 'head', cell: ({ name }) => name },
  {
    key: 'role',
    head: 'Role',
    cell: (member) =>
      mayWrite ? (
        <select
          aria-label={`Role of ${member.name}`}
          value={member.role}
          disabled={busy}
          onChange={({ target }) => actions.role(member, target.value as Role)}
        >
          {ROLES.map(([code, name]) => (
            <option key={code} value={code}>
              {name}
            </option>
          ))}
        </select>
      ) : (
        words(member.role)
      ),
  },
  {
    key: 'shops',
    head: 'Shops',
    cell: ({ shopIds }) => shopsInWords(shops, shopIds),
  },
  { key: 'since', head: 'Since', cell: ({ createdAt }) => day(createdAt) },
  { key: 'state', head: 'State', cell: ({ active }) => (active ? 'works here' : <span className="flag">put aside</span>) },
  {
    key: 'do',
    head: 'Do',
    cell: (member) =>
      mayWrite ? (
        <div className="row">
          <button type="button" className="small" onClick={() => actions.setPin(member)}>
            Set PIN<span className="unseen"> of {member.name}</span>
          </button>
          <Sure first="Take PIN away" second="Really take it" of={`from ${member.name}`} busy={busy} act={() => actions.takePin(member)} />
          <Sure
            first={member.active ? 'Put aside' : 'Take back'}
            second={member.active ? 'Really put aside' : 'Really take back'}
            of={member.name}
            busy={busy}
            act={() => actions.active(member, !member.active)}
          />
        </div>
      ) : (
        '–'
      ),
  },
];

interface PinProps {
  readonly member: Member;
  readonly busy: boolean;
  readonly set: (pin: string) => void;
  readonly done: () => void;
}

function PinForm({ member, busy, set, done }: PinProps) {
  const id = useId();
  const [pin, setPin] = useState('');
  const right = /^\d{4,8}$/.test(pin);
  const submit = (event: FormEvent) => {
    event.preventDefault();
    if (right) set(pin);
  };
  return (
    <form className="sheet stack" onSubmit={submit} aria-label={`PIN of ${member.name}`}>
      <div className="form-row">
        <div className="field">
          <label htmlFor={id}>New PIN of {member.name}, four to eight digits</label>
          <input
            id={id}
            type="password"
            inputMode="numeric"
            autoComplete="new-password"
            value={pin}
            aria-invalid={pin !== '' && !right}
            onChange={({ target }) => setPin(target.value)}
          />
        </div>
        <div className="row">
          <button type="submit" className="primary" disabled={!right || busy}>
            Set it
          </button>
          <button type="button" onClick={done}>
            Leave it
          </button>
        </div>
      </div>
    </form>
  );
}
