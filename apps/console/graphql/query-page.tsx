import { useMutation, useQuery } from '@tanstack/react-query';
import { useState } from 'react';
import { changeKey, useKey } from '../client/key.ts';
import { NeedsKey, Nothing, Waiting } from '../shell/states.tsx';
import { ThemeSwitch } from '../shell/theme.tsx';
import { ask, describedSchema } from './ask.ts';
import { PRESETS } from './presets.ts';
import { SchemaGuide } from './schema-guide.tsx';

/** GraphQL by hand: a query, its variables, the answer, and the schema beside them. Everything comes from this server. */
export function QueryPage() {
  const key = useKey();
  return (
    <>
      <header className="masthead">
        <a className="name" href="/">
          <img src="/mark.svg" alt="" width="28" height="28" /> Coolback
        </a>
        <nav aria-label="Pages">
          <a href="/">Console</a>
          <a href="/graphiql.html" aria-current="page">
            Queries
          </a>
          <a href="/docs">API reference</a>
        </nav>
        {key === null ? null : (
          <button type="button" onClick={() => changeKey(null)}>
            Put key away
          </button>
        )}
        <ThemeSwitch />
      </header>
      <main className="page stack" id="page">
        <h1>Queries</h1>
        {key === null ? <NeedsKey page="Asking in GraphQL" /> : <Workbench key={key} />}
      </main>
    </>
  );
}

function Workbench() {
  const [query, setQuery] = useState(PRESETS[0]!.query);
  const [variables, setVariables] = useState(PRESETS[0]!.variables);
  const schema = useQuery({ queryKey: ['schema'], queryFn: describedSchema, staleTime: Number.POSITIVE_INFINITY, retry: false });
  const run = useMutation({
    mutationFn: async () => {
      const given: unknown = variables.trim() === '' ? {} : JSON.parse(variables);
      return ask(query, given);
    },
  });
  const runByKey = (event: React.KeyboardEvent) => {
    if (event.key === 'Enter' && (event.ctrlKey || event.metaKey)) {
      event.preventDefault();
      run.mutate();
    }
  };
  return (
    <div className="workbench">
      <form
        className="stack"
        aria-label="Query"
        onSubmit={(event) => {
          event.preventDefault();
          run.mutate();
        }}
      >
        <div className="row">
          {PRESETS.map((preset) => (
            <button
              type="button"
              key={preset.name}
              aria-pressed={query === preset.query}
              onClick={() => {
                setQuery(preset.query);
                setVariables(preset.variables);
              }}
            >
              {preset.name}
            </button>
          ))}
        </div>
        <label className="field">
          <span>Query</span>
          <textarea
            className="code"
            rows={15}
            spellCheck={false}
            value={query}
            onChange={({ target }) => setQuery(target.value)}
            onKeyDown={runByKey}
          />
        </label>
        <label className="field">
          <span>Variables, as JSON</span>
          <textarea
            className="code"
            rows={4}
            spellCheck={false}
            value={variables}
            onChange={({ target }) => setVariables(target.value)}
            onKeyDown={runByKey}
          />
        </label>
        <div className="row">
          <button type="submit" className="primary" disabled={run.isPending}>
            Ask
          </button>
          <small>or Ctrl and Enter in either field</small>
        </div>
      </form>
      <section className="stack" aria-label="Answer" aria-busy={run.isPending}>
        <h2>Answer</h2>
        {run.error ? (
          <p className="state state-warning" role="alert">
            {run.error instanceof SyntaxError
              ? `The variables are not JSON: ${run.error.message}`
              : 'The server did not answer. Try again.'}
          </p>
        ) : run.data ? (
          <>
            <small role="status">
              HTTP {run.data.status} after {run.data.milliseconds.toFixed(0)} ms
            </small>
            {/* biome-ignore lint/a11y/noNoninteractiveTabindex: a region that scrolls must be reachable by keyboard */}
            <pre className="reply" tabIndex={0}>
              <code>{JSON.stringify(run.data.body, null, 2)}</code>
            </pre>
          </>
        ) : (
          <Nothing title="Nothing asked yet.">Pick an opening query, change it as you like, and press Ask.</Nothing>
        )}
      </section>
      <aside className="stack" aria-label="Schema">
        <h2>Schema</h2>
        {schema.data ? (
          <SchemaGuide schema={schema.data} />
        ) : schema.error ? (
          <p className="state state-warning">{schema.error.message}</p>
        ) : (
          <Waiting what="the schema" />
        )}
      </aside>
    </div>
  );
}
