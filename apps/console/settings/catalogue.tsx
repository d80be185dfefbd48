import type { Permission } from '../client/generated/api.ts';
import { useMe } from '../client/queries.ts';
import { Answered } from '../shell/answered.tsx';
import { type LongColumn, LongTable } from '../shell/long-table.tsx';
import { Nothing } from '../shell/states.tsx';
import { plural } from '../shell/words.ts';

interface Props<Row> {
  readonly title: string;
  readonly lead: string;
  /** One of them, e.g. shop. */
  readonly one: string;
  readonly path: string;
  readonly permission: Permission;
  readonly query: { readonly data: readonly Row[] | undefined; readonly error: unknown; refetch(): unknown };
  readonly columns: readonly LongColumn<Row>[];
}

/** The things of one kind an organisation has set up, and the way to another. */
export function Catalogue<Row extends { readonly id: string }>({ title, lead, one, path, permission, query, columns }: Props<Row>) {
  const me = useMe();
  const mayWrite = me.data?.permissions.includes(permission) ?? false;
  return (
    <div className="stack">
      <div className="row spread">
        <div className="stack tight">
          <h1>{title}</h1>
          <p className="lead">{lead}</p>
        </div>
        {mayWrite ? (
          <a className="button" href={`#${path}/new`}>
            Add a {one}
          </a>
        ) : null}
      </div>
      <Answered query={query} what={`the ${one}s`}>
        {(rows) =>
          rows.length === 0 ? (
            <Nothing title={`There is no ${one} yet.`}>
              {mayWrite ? <a href={`#${path}/new`}>Add the first one</a> : 'Ask an administrator to add one.'}
            </Nothing>
          ) : (
            <section className="sheet" aria-label={title}>
              <LongTable
                className="chooser"
                caption={plural(rows.length, one)}
                rows={rows}
                rowKey={({ id }) => id}
                rowHeight={40}
                columns={columns}
              />
            </section>
          )
        }
      </Answered>
    </div>
  );
}
