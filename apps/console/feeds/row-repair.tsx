import { type FormEvent, useEffect, useId, useRef, useState } from 'react';
import { useCorrection } from '../client/feed-queries.ts';
import type { ImportLine, ImportRow, ImportRun } from '../client/generated/api.ts';
import { Refused } from '../shell/states.tsx';

interface Props {
  readonly run: ImportRun;
  readonly row: ImportRow;
  readonly done: () => void;
}

/** One rejected row, repaired from its own messages: cells of a CSV file, or the whole case of an NDJSON line. */
export function RowRepair({ run, row, done }: Props) {
  const correction = useCorrection(run.id);
  const [said, say] = useState('');
  const head = useRef<HTMLHeadingElement>(null);
  useEffect(() => head.current?.focus(), []);
  const tell = {
    onSuccess: ({ outcome }: ImportRow) => {
      if (outcome === 'rejected') say('Still rejected; what is wrong now stands in the list.');
      else done();
    },
  };
  return (
    <section className="state repair" aria-label={`Repair of line ${row.line}`}>
      <h3 ref={head} tabIndex={-1}>
        Line {row.line}
        {row.reference === null ? '' : `, order ${row.reference}`}
      </h3>
      <ul className="bullets">
        {row.problems.map((problem) => (
          <li key={`${problem.pointer} ${problem.code}`}>
            <strong>{problem.column ?? problem.pointer}</strong>: {problem.detail} {problem.remedy}
          </li>
        ))}
      </ul>
      {run.format === 'csv' ? (
        <CellForm
          run={run}
          row={row}
          busy={correction.isPending}
          send={(cells) => correction.mutate({ line: row.line, correction: { cells } }, tell)}
        />
      ) : (
        <CaseForm busy={correction.isPending} send={(one) => correction.mutate({ line: row.line, correction: { case: one } }, tell)} />
      )}
      <div className="row">
        <button type="button" disabled={correction.isPending} onClick={() => correction.mutate({ line: row.line, correction: {} }, tell)}>
          Try it as it was
        </button>
        <button type="button" onClick={done}>
          Leave it
        </button>
        <span role="status">{said}</span>
      </div>
      {correction.error ? <Refused error={correction.error} what="this row" /> : null}
    </section>
  );
}

interface CellFormProps {
  readonly run: ImportRun;
  readonly row: ImportRow;
  readonly busy: boolean;
  readonly send: (cells: { column: string; value: string }[]) => void;
}

/** A field for each cell complained of; others can be added. */
function CellForm({ run, row, busy, send }: CellFormProps) {
  const id = useId();
  const named = [...new Set(row.problems.flatMap(({ column }) => (column === null ? [] : [column])))];
  const [columns, setColumns] = useState<readonly string[]>(named);
  const [cells, setCells] = useState<Readonly<Record<string, string>>>({});
  const typed = columns.flatMap((column) => (cells[column] === undefined ? [] : [{ column, value: cells[column] }]));
  const others = run.columns.filter((column) => !columns.includes(column));
  const submit = (event: FormEvent) => {
    event.preventDefault();
    if (typed.length > 0) send(typed);
  };
  return (
    <form className="stack" onSubmit={submit}>
      <div className="form-row">
        {columns.map((column, i) => (
          <div className="field" key={column}>
            <label htmlFor={`${id}-${i}`}>{column}</label>
            <input
              id={`${id}-${i}`}
              value={cells[column] ?? ''}
              onChange={({ target }) => setCells({ ...cells, [column]: target.value })}
            />
          </div>
        ))}
        {others.length === 0 ? null : (
          <div className="field">
            <label htmlFor={`${id}-other`}>Another column</label>
            <select id={`${id}-other`} value="" onChange={({ target }) => target.value !== '' && setColumns([...columns, target.value])}>
              <option value="">choose</option>
              {others.map((column) => (
                <option key={column} value={column}>
                  {column}
                </option>
              ))}
            </select>
          </div>
        )}
      </div>
      <div className="row">
        <button type="submit" className="primary" disabled={busy || typed.length === 0}>
          Put these in and try again
        </button>
        <span className="quiet">Cells you leave alone stay as they were sent.</span>
      </div>
    </form>
  );
}

function CaseForm({ busy, send }: { readonly busy: boolean; readonly send: (one: ImportLine) => void }) {
  const id = useId();
  const [typed, setTyped] = useState('');
  const [wrong, setWrong] = useState('');
  const submit = (event: FormEvent) => {
    event.preventDefault();
    try {
      setWrong('');
      send(JSON.parse(typed));
    } catch (error) {
      setWrong(error instanceof Error ? error.message : 'This is not JSON.');
    }
  };
  return (
    <form className="stack" onSubmit={submit}>
      <div className="field">
        <label htmlFor={id}>The whole line as it should be, in JSON</label>
        <textarea
          id={id}
          className="code"
          rows={6}
          value={typed}
          spellCheck={false}
          aria-invalid={wrong !== ''}
          onChange={({ target }) => setTyped(target.value)}
        />
        <small>{wrong}</small>
      </div>
      <div className="row">
        <button type="submit" className="primary" disabled={busy || typed.trim() === ''}>
          Put this in its place
        </button>
      </div>
    </form>
  );
}
