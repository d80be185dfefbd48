import { said } from '../shell/words.ts';

interface Props {
  readonly cautions: readonly string[];
  readonly definitions: readonly string[];
}

/** What the figures above mean and where they mislead, in words. */
export function Fineprint({ cautions, definitions }: Props) {
  return (
    <div className="sheet stack" id="definitions">
      {cautions.length === 0 ? null : (
        <div>
          <h2>Read with care</h2>
          <ul>
            {cautions.map((caution) => (
              <li key={caution}>{said(caution)}</li>
            ))}
          </ul>
        </div>
      )}
      <details>
        <summary>What each figure means</summary>
        <ul>
          {definitions.map((definition) => (
            <li key={definition}>{said(definition)}</li>
          ))}
        </ul>
      </details>
    </div>
  );
}
