import { type ReactNode, useId, useRef, useState } from 'react';
import { type Cell, downloadCsv } from '../shell/csv.ts';
import { savePicture } from './picture.ts';

export interface FigureColumn {
  /** With its unit. */
  readonly name: string;
  /** How a figure of it is written in the table; as it is when left out. */
  readonly show?: (cell: number) => string;
}

interface Props {
  readonly title: string;
  /** What is to be seen, for those who look and for those who cannot. */
  readonly words: string;
  /** Name of the files it is saved as. */
  readonly file: string;
  readonly width: number;
  readonly height: number;
  readonly columns: readonly FigureColumn[];
  readonly rows: readonly (readonly Cell[])[];
  /** Where the first cell of each row leads. */
  readonly links?: readonly (string | null)[];
  /** One sentence for each thing drawn: read off with the arrow keys. */
  readonly points?: readonly string[];
  readonly first?: number;
  readonly legend?: ReactNode;
  readonly children: (chosen: number, choose: (point: number) => void) => ReactNode;
}

/** A plot with its words, a point to read off, the same figures as a table, and both to take along. */
export function Figure({ title, words, file, width, height, columns, rows, links, points = [], first = 0, legend, children }: Props) {
  const id = useId();
  const drawing = useRef<SVGSVGElement>(null);
  const [chosen, choose] = useState(first);
  const at = Math.min(chosen, Math.max(points.length - 1, 0));
  return (
    <figure className="plot stack">
      <figcaption className="stack tight">
        <h2>{title}</h2>
        <p className="quiet">{words}</p>
      </figcaption>
      {legend}
      <svg ref={drawing} viewBox={`0 0 ${width} ${height}`} role="img" aria-label={`${title}. ${words}`}>
        {children(points.length === 0 ? -1 : at, choose)}
      </svg>
      {points.length === 0 ? null : (
        <div className="read-off">
          <label htmlFor={`${id}-at`}>Read off</label>
          <input
            id={`${id}-at`}
            type="range"
            min="0"
            max={points.length - 1}
            value={at}
            aria-valuetext={points[at]}
            onChange={({ target }) => choose(Number(target.value))}
          />
          <output htmlFor={`${id}-at`}>{points[at]}</output>
        </div>
      )}
      <div className="row no-print">
        <button
          type="button"
          className="small"
          onClick={() =>
            downloadCsv(
              file,
              columns.map(({ name }) => name),
              rows,
            )
          }
        >
          CSV<span className="unseen"> of {title}</span>
        </button>
        <button type="button" className="small" onClick={() => savePicture(drawing.current!, file)}>
          PNG<span className="unseen"> of {title}</span>
        </button>
      </div>
      <details>
        <summary>The same as a table</summary>
        <div className="table-wrap">
          <table>
            <caption className="unseen">{title}</caption>
            <thead>
              <tr>
                {columns.map(({ name }, i) => (
                  <th key={name} scope="col" className={i > 0 && typeof rows[0]?.[i] === 'number' ? 'number' : undefined}>
                    {name}
                  </th>
                ))}
              </tr>
            </thead>
            <tbody>
              {rows.map((row, r) => (
                <tr key={row.join(' ')}>
                  {row.map((cell, i) => (
                    <TableCell key={columns[i]!.name} cell={cell} column={columns[i]!} head={i === 0} link={i === 0 ? links?.[r] : null} />
                  ))}
                </tr>
              ))}
            </tbody>
          </table>
        </div>
      </details>
    </figure>
  );
}

interface CellProps {
  readonly cell: Cell;
  readonly column: FigureColumn;
  readonly head: boolean;
  readonly link: string | null | undefined;
}

function TableCell({ cell, column, head, link }: CellProps) {
  const shown = cell === null ? '–' : typeof cell === 'number' ? (column.show ?? String)(cell) : cell;
  const content = link ? <a href={link}>{shown}</a> : shown;
  if (head) return <th scope="row">{content}</th>;
  return <td className={typeof cell === 'number' ? 'number' : undefined}>{content}</td>;
}
