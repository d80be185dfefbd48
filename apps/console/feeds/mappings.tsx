import { type FormEvent, useId, useState } from 'react';
import { useMappings, useSaveMapping } from '../client/feed-queries.ts';
import type { CsvField, DateOrder, DecimalMark, ImportMapping, SavedMapping } from '../client/generated/api.ts';
import { csvFieldValues, dateOrderValues, decimalMarkValues, repairActionValues } from '../client/generated/api.ts';
import { FAULTS } from '../recurrences/filters.tsx';
import { Answered } from '../shell/answered.tsx';
import { Choice } from '../shell/choice.tsx';
import { Heads } from '../shell/heads.tsx';
import { Permitted } from '../shell/permitted.tsx';
import { Nothing, Refused } from '../shell/states.tsx';
import { moment, words } from '../shell/words.ts';

/** How the columns of a shop's own file become cases. */
export function Mappings() {
  return (
    <div className="stack">
      <h1>Mappings</h1>
      <p className="lead">
        A mapping says which heading is which field, what the file’s own words mean, and which repair a labour line stands for. The same
        name replaces; replaying an import uses it as it is then.
      </p>
      <Permitted permission="cases:write" what="mappings">
        {() => <MappingsOf />}
      </Permitted>
    </div>
  );
}

function MappingsOf() {
  const mappings = useMappings();
  const [edited, edit] = useState<SavedMapping | null>(null);
  return (
    <>
      <Answered query={mappings} what="the mappings">
        {({ data }) =>
          data.length === 0 ? (
            <Nothing title="No mapping is saved yet.">
              Files with the headings of the <a href="/v1/imports/template.csv">template</a> need none. For others, make one below.
            </Nothing>
          ) : (
            <section className="sheet" aria-label="Saved mappings">
              <div className="table-wrap">
                <table className="chooser">
                  <caption className="unseen">Saved mappings</caption>
                  <Heads of={[['Name'], ['Columns'], ['Fixed values'], ['Rules for lines'], ['Saved'], ['Change']]} />
                  <tbody>
                    {data.map((one) => (
                      <tr key={one.id}>
                        <th scope="row">{one.name}</th>
                        <td>{(one.mapping.columns ?? []).map(({ column, field }) => `${column} → ${field}`).join(', ') || '–'}</td>
                        <td>{(one.mapping.constants ?? []).map(({ field, value }) => `${field} = ${value}`).join(', ') || '–'}</td>
                        <td>
                          {(one.mapping.lines ?? []).map(({ contains, action }) => `“${contains}” → ${words(action)}`).join(', ') || '–'}
                        </td>
                        <td>{moment(one.updatedAt)}</td>
                        <td>
                          <button type="button" className="small" onClick={() => edit(one)}>
                            Change<span className="unseen"> {one.name}</span>
                          </button>
                        </td>
                      </tr>
                    ))}
                  </tbody>
                </table>
              </div>
            </section>
          )
        }
      </Answered>
      <MappingForm key={edited?.id ?? 'new'} saved={edited} done={() => edit(null)} />
    </>
  );
}

const FIELDS = csvFieldValues.map((code) => [code, code.replaceAll('_', ' ')] as const);
const ACTIONS = repairActionValues.map((code) => [code, words(code)] as const);

interface ColumnDraft {
  readonly column: string;
  readonly field: CsvField | '';
  readonly unit: string;
}

function MappingForm({ saved, done }: { readonly saved: SavedMapping | null; readonly done: () => void }) {
  const id = useId();
  const save = useSaveMapping();
  const before = saved?.mapping ?? {};
  const [name, setName] = useState(saved?.name ?? '');
  const [columns, setColumns] = useState<readonly ColumnDraft[]>(
    (before.columns ?? []).map(({ column, field, unit }) => ({ column, field, unit: unit ?? '' })),
  );
  const [lines, setLines] = useState<readonly NonNullable<ImportMapping['lines']>[number][]>(before.lines ?? []);
  const [decimal, setDecimal] = useState<DecimalMark | ''>(before.decimal ?? '');
  const [dates, setDates] = useState<DateOrder | ''>(before.dates ?? '');
  const [ignore, setIgnore] = useState(before.ignoreUnknownColumns ?? false);
  const put = (at: number, part: Partial<ColumnDraft>) => setColumns(columns.map((one, i) => (i === at ? { ...one, ...part } : one)));
  const submit = (event: FormEvent) => {
    event.preventDefault();
    const mapping: ImportMapping = {
      ...before,
      columns: columns.flatMap(({ column, field, unit }) =>
        column.trim() === '' || field === ''
          ? []
          : [{ column: column.trim(), field, ...(unit.trim() === '' ? {} : { unit: unit.trim() }) }],
      ),
      lines: lines.filter(({ contains }) => contains.trim() !== ''),
      ignoreUnknownColumns: ignore,
    };
    if (decimal === '') delete mapping.decimal;
    else mapping.decimal = decimal;
    if (dates === '') delete mapping.dates;
    else mapping.dates = dates;
    save.mutate({ name: name.trim(), mapping }, { onSuccess: done });
  };
  return (
    <form className="sheet stack" onSubmit={submit} aria-label="Mapping">
      <h2>{saved ? `Change “${saved.name}”` : 'A new mapping'}</h2>
      <div className="form-row">
        <div className="field">
          <label htmlFor={`${id}-name`}>Name</label>
          <input id={`${id}-name`} value={name} maxLength={60} readOnly={saved !== null} onChange={({ target }) => setName(target.value)} />
        </div>
        <Choice
          label="Decimal mark"
          value={decimal}
          options={decimalMarkValues.map((code) => [code, code] as const)}
          none="either, where it is clear"
          change={setDecimal}
        />
        <Choice
          label="Order of dates"
          value={dates}
          options={dateOrderValues.map((code) => [code, code] as const)}
          none="year first, or refuse"
          change={setDates}
        />
        <label className="chip">
          <input type="checkbox" checked={ignore} onChange={({ target }) => setIgnore(target.checked)} /> Pass over headings not named here
        </label>
      </div>
      <h3>Columns</h3>
      {columns.map((one, i) => (
        // biome-ignore lint/suspicious/noArrayIndexKey: drafts have no identity but their place
        <div className="form-row" key={i}>
          <div className="field">
            <label htmlFor={`${id}-c${i}`}>Heading {i + 1} in the file</label>
            <input id={`${id}-c${i}`} value={one.column} onChange={({ target }) => put(i, { column: target.value })} />
          </div>
          <Choice
            label={`is the field (${i + 1})`}
            value={one.field}
            options={FIELDS}
            none="choose"
            change={(field) => put(i, { field })}
          />
          <div className="field">
            <label htmlFor={`${id}-u${i}`}>in the unit ({i + 1}), if it has one</label>
            <input
              id={`${id}-u${i}`}
              value={one.unit}
              placeholder="UCUM: km, bar, [psi], Cel"
              onChange={({ target }) => put(i, { unit: target.value })}
            />
          </div>
        </div>
      ))}
      <div className="row">
        <button type="button" onClick={() => setColumns([...columns, { column: '', field: '', unit: '' }])}>
          Add a column
        </button>
      </div>
      <h3>Labour and part lines</h3>
      <p className="quiet">
        The first rule whose words are found in the text of a line makes it a repair. Intent stays unknown unless you say it elsewhere.
      </p>
      {lines.map((one, i) => (
        // biome-ignore lint/suspicious/noArrayIndexKey: drafts have no identity but their place
        <div className="form-row" key={i}>
          <div className="field">
            <label htmlFor={`${id}-l${i}`}>Words in line {i + 1}</label>
            <input
              id={`${id}-l${i}`}
              value={one.contains}
              onChange={({ target }) => setLines(lines.map((line, at) => (at === i ? { ...line, contains: target.value } : line)))}
            />
          </div>
          <Choice
            label={`mean the repair (${i + 1})`}
            value={one.action}
            options={ACTIONS}
            none={null}
            change={(action) => action !== '' && setLines(lines.map((line, at) => (at === i ? { ...line, action } : line)))}
          />
          <Choice
            label={`for the fault (${i + 1})`}
            value={one.fault}
            options={FAULTS}
            none={null}
            change={(fault) => fault !== '' && setLines(lines.map((line, at) => (at === i ? { ...line, fault } : line)))}
          />
        </div>
      ))}
      <div className="row">
        <button type="button" onClick={() => setLines([...lines, { contains: '', action: repairActionValues[0]!, fault: FAULTS[0]![0] }])}>
          Add a rule
        </button>
      </div>
      <div className="row">
        <button type="submit" className="primary" disabled={name.trim() === '' || save.isPending}>
          Save the mapping
        </button>
        {saved ? (
          <button type="button" onClick={done}>
            Leave it as it was
          </button>
        ) : null}
        {save.isSuccess ? <span role="status">Saved.</span> : null}
      </div>
      {save.error ? <Refused error={save.error} what="this mapping" /> : null}
    </form>
  );
}
