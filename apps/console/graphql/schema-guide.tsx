import { useState } from 'react';
import { type Field, type Schema, type SchemaType, written } from './ask.ts';

/** The schema to walk through: a type, its fields, and on to the types of these. */
export function SchemaGuide({ schema }: { readonly schema: Schema }) {
  const [trail, setTrail] = useState<readonly string[]>([schema.queryType.name]);
  const [sought, setSought] = useState('');
  const name = trail.at(-1)!;
  const type = schema.types.find((one) => one.name === name);
  const found =
    sought.trim().length < 2
      ? []
      : schema.types
          .filter((one) => !one.name.startsWith('__') && one.name.toLowerCase().includes(sought.trim().toLowerCase()))
          .slice(0, 12);
  const walk = (to: string) => {
    setSought('');
    setTrail([...trail.filter((one) => one !== to), to]);
  };
  return (
    <div className="stack guide">
      <label className="field">
        <span>Find a type</span>
        <input value={sought} onChange={({ target }) => setSought(target.value)} autoComplete="off" spellCheck={false} />
      </label>
      <div className="row">
        {found.length > 0
          ? found.map((one) => <TypeLink key={one.name} name={one.name} text={one.name} walk={walk} />)
          : [schema.queryType.name, ...(schema.mutationType ? [schema.mutationType.name] : [])].map((root) => (
              <TypeLink key={root} name={root} text={root} walk={walk} />
            ))}
        {trail.length > 1 ? (
          <button type="button" onClick={() => setTrail(trail.slice(0, -1))}>
            Back
          </button>
        ) : null}
      </div>
      {type ? (
        <TypeFacts type={type} walk={walk} known={new Set(schema.types.filter(({ kind }) => kind !== 'SCALAR').map((one) => one.name))} />
      ) : null}
    </div>
  );
}

interface WalkProps {
  readonly walk: (to: string) => void;
}

function TypeLink({ name, text, walk }: WalkProps & { readonly name: string; readonly text: string }) {
  return (
    <button type="button" className="type-link" onClick={() => walk(name)}>
      {text}
    </button>
  );
}

function TypeFacts({ type, walk, known }: WalkProps & { readonly type: SchemaType; readonly known: ReadonlySet<string> }) {
  return (
    <div className="stack">
      <h3>{type.name}</h3>
      {type.description ? <p className="quiet">{type.description}</p> : null}
      <dl className="schema-fields">
        {[...(type.fields ?? []), ...(type.inputFields ?? [])].map((field) => (
          <FieldFacts key={field.name} field={field} walk={walk} known={known} />
        ))}
      </dl>
      {type.enumValues ? <p>{type.enumValues.map(({ name }) => name).join(', ')}</p> : null}
    </div>
  );
}

function FieldFacts({ field, walk, known }: WalkProps & { readonly field: Field; readonly known: ReadonlySet<string> }) {
  const typeOf = (type: Field['type']) => {
    const { text, inner } = written(type);
    return known.has(inner) ? <TypeLink name={inner} text={text} walk={walk} /> : <code>{text}</code>;
  };
  return (
    <>
      <dt>
        <code>{field.name}</code>
      </dt>
      <dd>
        {typeOf(field.type)}
        {(field.args ?? []).map((argument) => (
          <div key={argument.name} className="quiet">
            with <code>{argument.name}</code>: {typeOf(argument.type)}
          </div>
        ))}
        {field.description ? <div className="quiet">{field.description}</div> : null}
      </dd>
    </>
  );
}
