import type { ReactNode } from 'react';
import type { Me, Permission } from '../client/generated/api.ts';
import { useMe } from '../client/queries.ts';
import { Answered } from './answered.tsx';
import { KeyEntry } from './states.tsx';

interface Props {
  readonly permission: Permission;
  /** What the permission opens, in words. */
  readonly what: string;
  readonly children: (me: Me) => ReactNode;
}

/** A page for those who may; others are told which permission is missing and who can give it, before anything is asked of the server. */
export function Permitted({ permission, what, children }: Props) {
  return (
    <Answered query={useMe()} what="who this key is">
      {(me) =>
        me.permissions.includes(permission) ? (
          children(me)
        ) : (
          <div className="state state-warning">
            <strong>Your key may not see {what}.</strong>
            <p>
              It needs the permission <code>{permission}</code>. Ask an administrator to widen this key, or enter another one here.
            </p>
            <KeyEntry />
          </div>
        )
      }
    </Answered>
  );
}
