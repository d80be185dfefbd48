import { type FormEvent, useId, useState } from 'react';
import { useImports, useMappings, useUpload } from '../client/feed-queries.ts';
import type { ImportRun } from '../client/generated/api.ts';
import { useShops } from '../client/queries.ts';
import { Choice } from '../shell/choice.tsx';
import type { LongColumn } from '../shell/long-table.tsx';
import { PagedList } from '../shell/paged-list.tsx';
import { Permitted } from '../shell/permitted.tsx';
import { goTo } from '../shell/route.ts';
import { Nothing, Refused } from '../shell/states.tsx';
import { count, moment, plural } from '../shell/words.ts';
import { ImportState } from './import-state.tsx';

/** Files of cases: sent, and what became of them. */
export function Imports() {
  return (
    <div className="stack">
      <h1>Imports</h1>
      <Permitted permission="cases:write" what="imports">
        {() => (
          <>
            <SendFile />
            <Runs />
          </>
        )}
      </Permitted>
    </div>
  );
}

function SendFile() {
  const id = useId();
  const mappings = useMappings();
  const shops = useShops();
  const upload = useUpload();
  const [file, setFile] = useState<File | null>(null);
  const [mapping, setMapping] = useState('');
  const [shopCode, setShopCode] = useState('');
  const [system, setSystem] = useState('');
  const [dryRun, setDryRun] = useState(false);
  const [backfill, setBackfill] = useState(false);
  const send = (event: FormEvent) => {
    event.preventDefault();
    if (file)
      upload.mutate({ file, mapping, shopCode, system, dryRun, backfill }, { onSuccess: (run) => goTo(`#/feeds/imports/${run.id}`) });
  };
  return (
    <form className="sheet stack" onSubmit={send} aria-label="Send a file">
      <h2>Send a file</h2>
      <p className="quiet">
        CSV, tab-separated text or NDJSON, plain or .gz, of any size. Sending the same file again doubles nothing. The{' '}
        <a href="/v1/imports/template.csv">template</a> has headings that need no mapping.
      </p>
      <div className="form-row">
        <div className="field">
          <label htmlFor={id}>File</label>
          <input
            id={id}
            type="file"
            accept=".csv,.tsv,.ndjson,.jsonl,.gz,text/csv,application/x-ndjson"
            onChange={({ target }) => setFile(target.files?.[0] ?? null)}
          />
        </div>
        <Choice
          label="Mapping"
          value={mapping}
          options={(mappings.data?.data ?? []).map(({ name }) => [name, name] as const)}
          none="headings as in the template"
          change={setMapping}
        />
        <Choice
          label="Shop of rows that name none"
          value={shopCode}
          options={(shops.data ?? []).map(({ code, name }) => [code, name] as const)}
          none="every row names its shop"
          change={setShopCode}
        />
        <div className="field">
          <label htmlFor={`${id}-system`}>System of rows that name none</label>
          <input id={`${id}-system`} value={system} maxLength={60} onChange={({ target }) => setSystem(target.value)} />
        </div>
      </div>
      <div className="chips">
        <label className="chip">
          <input type="checkbox" checked={dryRun} onChange={({ target }) => setDryRun(target.checked)} /> Judge every row, store nothing
        </label>
        <label className="chip">
          <input type="checkbox" checked={backfill} onChange={({ target }) => setBackfill(target.checked)} /> History: raise no events
        </label>
      </div>
      <div className="row">
        <button type="submit" className="primary" disabled={file === null || upload.isPending}>
          {upload.isPending ? 'Sending…' : 'Send it'}
        </button>
        {file === null ? <span className="quiet">Choose a file first.</span> : null}
      </div>
      {upload.error ? <Refused error={upload.error} what="this file" /> : null}
    </form>
  );
}

const COLUMNS: readonly LongColumn<ImportRun>[] = [
  {
    key: 'at',
    head: 'Sent',
    kind: 'date',
    cell: ({ id, createdAt }) => <a href={`#/feeds/imports/${id}`}>{moment(createdAt)}</a>,
  },
  { key: 'state', head: 'State', cell: (run) => <ImportState run={run} /> },
  {
    key: 'what',
    head: 'What',
    cell: ({ format, mapping, dryRun, backfill }) =>
      [format.toUpperCase(), mapping === null ? null : `mapping ${mapping}`, dryRun ? 'judged only' : null, backfill ? 'history' : null]
        .filter((one) => one !== null)
        .join(', '),
  },
  { key: 'received', head: 'Rows', kind: 'number', cell: ({ received }) => count(received) },
  { key: 'opened', head: 'New', kind: 'number', cell: ({ opened }) => count(opened) },
  { key: 'revised', head: 'Revised', kind: 'number', cell: ({ revised }) => count(revised) },
  { key: 'unchanged', head: 'Unchanged', kind: 'number', cell: ({ unchanged }) => count(unchanged) },
  {
    key: 'rejected',
    head: 'Rejected',
    kind: 'number',
    cell: ({ rejected }) => (rejected === 0 ? '–' : <span className="flag">{count(rejected)}</span>),
  },
];

function Runs() {
  return (
    <PagedList
      pages={useImports()}
      what="imports"
      label="Files sent"
      nothing={<Nothing title="No file was sent yet.">Send one above, or with the command line: coolback import FILE.</Nothing>}
      className="chooser"
      caption={(runs) => `${plural(runs.length, 'file')} so far, newest first; open one for its rows.`}
      rowKey={({ id }) => id}
      columns={COLUMNS}
    />
  );
}
