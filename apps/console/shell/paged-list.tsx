import type { ReactNode } from 'react';
import { type LongColumn, LongTable } from './long-table.tsx';
import { Refused, Waiting } from './states.tsx';

/** Pages of a list as they were fetched so far. */
interface Pages<Row> {
  readonly data: { readonly pages: readonly { readonly data: readonly Row[] }[] } | undefined;
  readonly error: unknown;
  readonly isPending: boolean;
  readonly hasNextPage: boolean;
  readonly isFetchingNextPage: boolean;
  refetch(): unknown;
  fetchNextPage(): unknown;
}

export const rowsOf = <Row,>({ data }: Pick<Pages<Row>, 'data'>): readonly Row[] => data?.pages.flatMap((page) => page.data) ?? [];

interface Props<Row> {
  readonly pages: Pages<Row>;
  readonly what: string;
  /** What to do where there is nothing. */
  readonly nothing: ReactNode;
  readonly caption: (rows: readonly Row[]) => string;
  readonly rowKey: (row: Row) => string;
  readonly columns: readonly LongColumn<Row>[];
  readonly rowHeight?: number;
  readonly className?: string;
  /** Of the section around it; without one the table stands alone, in a section of the page's own. */
  readonly label?: string;
  /** Above the table, when there are rows. */
  readonly children?: ReactNode;
}

/** A list the server hands out in pages: being fetched, refused, empty, or a table that fetches more near its end. */
export function PagedList<Row>(props: Props<Row>) {
  const { pages, what, nothing, caption, rowKey, columns, rowHeight = 40, className, label, children } = props;
  const rows = rowsOf(pages);
  if (pages.error) return <Refused error={pages.error} what={what} again={() => pages.refetch()} />;
  if (pages.isPending) return <Waiting what={what} />;
  if (rows.length === 0) return nothing;
  const table = (
    <LongTable
      className={className}
      caption={caption(rows)}
      rows={rows}
      rowKey={rowKey}
      rowHeight={rowHeight}
      columns={columns}
      more={{ has: pages.hasNextPage, fetching: pages.isFetchingNextPage, fetch: pages.fetchNextPage }}
    />
  );
  if (label === undefined) return table;
  return (
    <section className="sheet stack" aria-label={label}>
      {children}
      {table}
    </section>
  );
}
