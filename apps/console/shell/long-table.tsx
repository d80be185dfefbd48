import { useWindowVirtualizer } from '@tanstack/react-virtual';
import { type ReactNode, useEffect, useLayoutEffect, useRef, useState } from 'react';

export interface LongColumn<Row> {
  readonly key: string;
  readonly head: ReactNode;
  /** A date names the row like a head does, and is not broken over lines. */
  readonly kind?: 'number' | 'bar' | 'head' | 'date';
  readonly cell: (row: Row) => ReactNode;
}

interface Props<Row> {
  readonly caption: ReactNode;
  readonly rows: readonly Row[];
  /** How many there are in all, where that is known before they are here. */
  readonly total?: number;
  readonly rowKey: (row: Row) => string;
  readonly columns: readonly LongColumn<Row>[];
  /** Height of a row before it is measured, px. */
  readonly rowHeight: number;
  readonly className?: string;
  /** Rows that are not here yet: fetched when the reader nears the end. */
  readonly more?: { readonly has: boolean; readonly fetching: boolean; readonly fetch: () => unknown };
}

/** Rows beyond the window that are drawn too, so that the tab key always finds a next one. */
const BEYOND = 12;
/** Rows drawn on paper, which has no window to scroll. */
const ON_PAPER = 1_000;

/** A table of any length that draws the rows in the window only; the reader's tools are told how many there are. */
export function LongTable<Row>({ caption, rows, total = rows.length, rowKey, columns, rowHeight, className, more }: Props<Row>) {
  const wrap = useRef<HTMLDivElement>(null);
  const [margin, setMargin] = useState(0);
  const printing = usePrinting();
  useLayoutEffect(() => {
    const top = wrap.current!.getBoundingClientRect().top + window.scrollY;
    if (Math.abs(top - margin) > 1) setMargin(top);
  });
  const virtual = useWindowVirtualizer({
    count: rows.length,
    estimateSize: () => rowHeight,
    overscan: BEYOND,
    scrollMargin: margin,
    // Rows are known to it by their place: a key for each would be made for all of them at every drawing.
  });
  const drawn = virtual.getVirtualItems();
  const last = drawn.at(-1)?.index ?? -1;
  const nearEnd = more?.has === true && !more.fetching && last >= rows.length - 3;
  const fetchMore = more?.fetch;
  useEffect(() => {
    if (nearEnd) fetchMore?.();
  }, [nearEnd, fetchMore]);
  const before = printing || drawn.length === 0 ? 0 : drawn[0]!.start - margin;
  const after = printing || drawn.length === 0 ? 0 : virtual.getTotalSize() - (drawn.at(-1)!.end - margin);
  const shown = printing ? rows.slice(0, ON_PAPER).map((_, index) => index) : drawn.map(({ index }) => index);
  return (
    <div className="table-wrap" ref={wrap}>
      <table className={className} aria-rowcount={total + 1}>
        <caption>{caption}</caption>
        <thead>
          <tr aria-rowindex={1}>
            {columns.map(({ key, head, kind }) => (
              <th key={key} scope="col" className={kind}>
                {head}
              </th>
            ))}
          </tr>
        </thead>
        <tbody>
          {before > 0 ? <Gap height={before} columns={columns.length} /> : null}
          {shown.map((index) => (
            <tr key={rowKey(rows[index]!)} data-index={index} aria-rowindex={index + 2} ref={printing ? undefined : virtual.measureElement}>
              {columns.map(({ key, kind, cell }) =>
                kind === 'head' || kind === 'date' ? (
                  <th key={key} scope="row" className={kind}>
                    {cell(rows[index]!)}
                  </th>
                ) : (
                  <td key={key} className={kind}>
                    {cell(rows[index]!)}
                  </td>
                ),
              )}
            </tr>
          ))}
          {after > 0 ? <Gap height={after} columns={columns.length} /> : null}
        </tbody>
      </table>
      {more?.has ? (
        <p>
          <button type="button" onClick={() => more.fetch()} disabled={more.fetching}>
            More
          </button>
        </p>
      ) : null}
    </div>
  );
}

/** Room for the rows that are not drawn. */
function Gap({ height, columns }: { readonly height: number; readonly columns: number }) {
  return (
    <tr className="gap">
      <td colSpan={columns} style={{ height, padding: 0, border: 0 }} />
    </tr>
  );
}

function usePrinting(): boolean {
  const [printing, setPrinting] = useState(false);
  useEffect(() => {
    const media = window.matchMedia('print');
    const change = () => setPrinting(media.matches);
    media.addEventListener('change', change);
    return () => media.removeEventListener('change', change);
  }, []);
  return printing;
}
