import { useId, useState } from 'react';
import type { Platform } from '../client/generated/api.ts';
import type { Draft, DraftFace } from './draft.ts';
import { isUnreadable } from './draft.ts';
import { acrossFace, FACE, Face, type FaceSpot, faceOf, suggestedSpots } from './face.tsx';
import type { FormProps } from './forms.tsx';
import { type Read, readGrid } from './grid.ts';
import { unitName } from './quantities.ts';
import { TextOrFile } from './text-or-file.tsx';

export const spotKey = ({ x, y }: FaceSpot): string => `${x.toFixed(3)} ${y.toFixed(3)}`;
const SIDES = ['gas-in side', 'middle', 'far side'];

interface Props extends FormProps {
  readonly platform: Platform | null;
}

/** Temperatures of the condenser face, typed where they were taken; or a whole grid out of an imager. */
export function FaceForm({ draft, change, platform }: Props) {
  const put = (parts: Partial<DraftFace>) => change({ face: { ...draft.face, ...parts } });
  const typed = Object.values(draft.face.spots).filter((value) => value.trim() !== '').length;
  return (
    <details>
      <summary>
        Condenser face, by spots or grid
        {draft.face.grid ? ` (${draft.face.grid.length} rows)` : typed > 0 ? ` (${typed})` : ''}
      </summary>
      <div className="stack">
        <small>
          Tape or paint the spots: bare aluminium misreads. Type at least four heights, from the top down, in{' '}
          {unitName(draft.temperatureUnit)}; leave out what you cannot reach. What lies behind another cooler is not counted.
        </small>
        {draft.face.grid ? (
          <GridTaken draft={draft} platform={platform} out={() => put({ grid: null })} />
        ) : (
          <Spots draft={draft} platform={platform} put={put} />
        )}
        <div className="chips">
          <label className="chip">
            <input type="checkbox" checked={draft.face.inletRight} onChange={({ target }) => put({ inletRight: target.checked })} />
            Gas comes in on my right
          </label>
          <label className="chip">
            <input type="checkbox" checked={draft.face.bareMetal} onChange={({ target }) => put({ bareMetal: target.checked })} />
            On bare metal
          </label>
        </div>
        <TextOrFile
          summary="Grid from an imager: CSV or JSON"
          hint={`Rows from the top, columns from the gas-in side, in ${unitName(draft.temperatureUnit)}.`}
          accept=".csv,.tsv,.txt,.json"
          read={(text): Read<unknown> => {
            const grid = readGrid(text);
            if (grid.ok) put({ grid: grid.value });
            return grid;
          }}
        />
      </div>
    </details>
  );
}

interface SpotsProps {
  readonly draft: Draft;
  readonly platform: Platform | null;
  readonly put: (parts: Partial<DraftFace>) => void;
}

function Spots({ draft, platform, put }: SpotsProps) {
  const id = useId();
  const face = faceOf(platform, draft.layout === 'valve-integral-receiver');
  const rows = suggestedSpots(face);
  const { spots, inletRight } = draft.face;
  const label = `Condenser from the front, gas in on the ${inletRight ? 'right' : 'left'}. A field for each spot follows.`;
  return (
    <div className="face">
      <Face face={face} inletRight={inletRight} label={label} />
      {rows.flatMap((row, i) =>
        row.map((spot, j) => {
          const key = spotKey(spot);
          const value = spots[key] ?? '';
          return (
            <span
              key={key}
              className="face-spot"
              style={{
                left: `${(100 * (acrossFace(spot.x, inletRight) + 8)) / (FACE.width + 16)}%`,
                top: `${(100 * (24 + FACE.height * spot.y)) / (FACE.height + 34)}%`,
              }}
            >
              <label htmlFor={`${id} ${key}`} className="unseen">
                Height {i + 1} of {rows.length} from the top, {SIDES[j]}
              </label>
              <input
                id={`${id} ${key}`}
                inputMode="decimal"
                autoComplete="off"
                value={value}
                aria-invalid={isUnreadable(value)}
                onChange={({ target }) => put({ spots: { ...spots, [key]: target.value } })}
              />
            </span>
          );
        }),
      )}
    </div>
  );
}

function GridTaken({ draft, platform, out }: { readonly draft: Draft; readonly platform: Platform | null; readonly out: () => void }) {
  const [asked, ask] = useState(false);
  const grid = draft.face.grid!;
  const flat = grid.flat();
  const unit = unitName(draft.temperatureUnit);
  const caption = `${grid.length} × ${grid[0]!.length} temperatures from ${Math.min(...flat)} to ${Math.max(...flat)} ${unit}; warm is full, cold is pale.`;
  return (
    <div className="stack">
      <Face
        face={faceOf(platform, draft.layout === 'valve-integral-receiver')}
        inletRight={draft.face.inletRight}
        grid={grid}
        label={`Condenser from the front with a grid. ${caption}`}
      />
      <small>{caption}</small>
      <div className="row">
        {asked ? (
          <button type="button" onClick={out}>
            Yes, take it out
          </button>
        ) : (
          <button type="button" onClick={() => ask(true)}>
            Take the grid out
          </button>
        )}
      </div>
    </div>
  );
}
