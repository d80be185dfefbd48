import { useMemo, useState } from 'react';
import { rejectedRows, useImport, useImportRows, useReplay } from '../client/feed-queries.ts';
import type { ImportRow, ImportRun, RowOutcome } from '../client/generated/api.ts';
import { rowOutcomeValues } from '../client/generated/api.ts';
import { Answered } from '../shell/answered.tsx';
import { Choice } from '../shell/choice.tsx';
import { downloadBlob } from '../shell/csv.ts';
import { type LongColumn, LongTable } from '../shell/long-table.tsx';
import { Nothing, Refused, Waiting } from '../shell/states.tsx';
import { count, moment, plural, words } from '../shell/words.ts';
import { ImportState } from './import-state.tsx';
import { RowRepair } from './row-repair.tsx';

/** One file: how far it is, live, what became of each row, and rejected rows repaired where they stand. */
export function ImportPage({ id }: { readonly id: string }) {
  const run = useImport(id);
  return (
    <div className="stack">
      <p className="no-print">
        <a href="#/feeds/imports">All imports</a>
      </p>
      <Answered query={run} what="this import">
        {(known) => (
          <>
            <h1>File of {moment(known.createdAt)}</h1>
            <Progress run={known} />
            <Rows run={known} />
          </>
        )}
      </Answered>
    </div>
  );
}

function Progress({ run }: { readonly run: ImportRun }) {
  const replay = useReplay(run.id);
  const [saving, setSaving] = useState<unknown>(null);
  const save = (format: 'csv' | 'ndjson') =>
    rejectedRows(run.id, format)
      .then((blob) => downloadBlob(`rejected-${run.id.slice(-6)}.${format}`, blob))
      .catch(setSaving);
  return (
    <section className="sheet stack" aria-label="How far it is">
      <div className="row spread" role="status">
        <strong>
          <ImportState run={run} />
        </strong>
        {run.detail === null ? null : <span>{run.detail}</span>}
      </div>
      <dl className="sums">
        {(
          [
            ['Rows', run.received],
            ['New', run.opened],
            ['Revised', run.revised],
            ['Unchanged', run.unchanged],
            ['Rejected', run.rejected],
          ] as const
        ).map(([name, n]) => (
          <div key={name}>
            <dt>{name}</dt>
            <dd>{count(n)}</dd>
          </div>
        ))}
      </dl>
      <p className="quiet">
        {run.dryRun ? 'Every row was judged and nothing stored. ' : ''}
        {run.mapping === null ? '' : `Read with the mapping “${run.mapping}”. `}
        {run.columns.length === 0 ? '' : `Headings: ${run.columns.join(', ')}.`}
      </p>
      {run.rejected === 0 ? null : (
        <div className="row">
          <button type="button" className="primary" disabled={replay.isPending || run.state !== 'done'} onClick={() => replay.mutate()}>
            Try all {count(run.rejected)} again
          </button>
          <button type="button" onClick={() => save('csv')}>
            Rejected rows as CSV
          </button>
          <button type="button" onClick={() => save('ndjson')}>
            as NDJSON
          </button>
          <span className="quiet">Trying again uses the mapping as it is saved now. What was sent is kept, sealed, for thirty days.</span>
        </div>
      )}
      {replay.error ? <Refused error={replay.error} what="this import" /> : null}
      {saving ? <Refused error={saving} what="the rejected rows" /> : null}
    </section>
  );
}

function Rows({ run }: { readonly run: ImportRun }) {
  const [picked, pick] = useState<RowOutcome | '' | null>(null);
  const outcome = picked ?? (run.rejected > 0 ? 'rejected' : '');
  const pages = useImportRows(run.id, outcome === '' ? undefined : outcome);
  const [open, setOpen] = useState<number | null>(null);
  const rows = pages.data?.pages.flatMap(({ data }) => data) ?? [];
  const repairing = rows.find(({ line }) => line === open);
  const columns = useMemo(() => columnsOf(setOpen), []);
  return (
    <section className="sheet stack" aria-label="Rows">
      <div className="row spread">
        <h2>What became of each row</h2>
        <Choice
          label="Show"
          value={outcome}
          options={rowOutcomeValues.map((code) => [code, words(code)] as const)}
          none="every row"
          change={pick}
        />
      </div>
      {repairing ? <RowRepair key={repairing.line} run={run} row={repairing} done={() => setOpen(null)} /> : null}
      {pages.error ? (
        <Refused error={pages.error} what="the rows" again={() => pages.refetch()} />
      ) : pages.isPending ? (
        <Waiting what="the rows" />
      ) : rows.length === 0 ? (
        <Nothing title={run.state === 'done' ? 'No such row.' : 'No row has been judged yet.'}>
          {run.state === 'done' ? 'Show every row instead.' : 'Rows appear here as the worker goes through the file.'}
        </Nothing>
      ) : (
        <LongTable
          caption={`${plural(rows.length, 'row')} so far, by line.`}
          rows={rows}
          rowKey={({ line }) => String(line)}
          rowHeight={48}
          columns={columns}
          more={{ has: pages.hasNextPage, fetching: pages.isFetchingNextPage, fetch: pages.fetchNextPage }}
        />
      )}
    </section>
  );
}

const columnsOf = (repair: (line: number) => void): readonly LongColumn<ImportRow>[] => [
  { key: 'line', head: 'Line', kind: 'head', cell: ({ line }) => count(line) },
  { key: 'reference', head: 'Order', cell: ({ reference }) => reference ?? '–' },
  {
    key: 'outcome',
    head: 'Became',
    cell: ({ outcome, corrected }) => (
      <>
        {outcome === 'rejected' ? <span className="flag">rejected</span> : words(outcome)}
        {corrected ? ' after correction' : ''}
      </>
    ),
  },
  {
    key: 'why',
    head: 'Why, and how to mend it',
    cell: ({ problems }) => (
      <ul className="plain">
        {problems.map((problem) => (
          <li key={`${problem.pointer} ${problem.code}`}>
            <strong>{problem.column ?? problem.pointer}</strong>: {problem.detail} {problem.remedy}
          </li>
        ))}
      </ul>
    ),
  },
  {
    key: 'next',
    head: 'Next',
    cell: ({ outcome, line, caseId }) =>
      outcome === 'rejected' ? (
        <button type="button" className="small" onClick={() => repair(line)}>
          Repair<span className="unseen"> line {line}</span>
        </button>
      ) : caseId === null ? (
        '–'
      ) : (
        <a href={`#/bay/case/${caseId}`}>
          Open<span className="unseen"> the case of line {line}</span>
        </a>
      ),
  },
];
