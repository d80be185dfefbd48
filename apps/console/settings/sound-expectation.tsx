import type { Platform, PlatformExpectation } from '../client/generated/api.ts';
import { useExpectation, useLearnExpectation } from '../client/settings-queries.ts';
import { Answered } from '../shell/answered.tsx';
import { Refused } from '../shell/states.tsx';
import { day, said, words } from '../shell/words.ts';

/** What a sound car of the platform is held against, and whose readings that was learned from. */
export function SoundExpectation({ platform, mayWrite }: { readonly platform: Platform; readonly mayWrite: boolean }) {
  const expectation = useExpectation(platform.id);
  const learn = useLearnExpectation(platform.id);
  return (
    <section className="sheet stack" aria-label="When it is sound">
      <h2>What it shows when it is sound</h2>
      <Answered query={expectation} what="what a sound one shows">
        {(found) => (
          <>
            <p>{said(found.message)}</p>
            {found.lookedAt === null ? null : <p className="quiet">Last looked at on {day(found.lookedAt)}.</p>}
            {found.shifts.length === 0 ? null : <Shifts shifts={found.shifts} />}
            <details>
              <summary>What counts, and how much</summary>
              <ul>
                {found.definitions.map((one) => (
                  <li key={one}>{said(one)}</li>
                ))}
              </ul>
            </details>
          </>
        )}
      </Answered>
      {mayWrite ? (
        <div className="row">
          <button type="button" disabled={learn.isPending} onClick={() => learn.mutate()}>
            Look at the readings again
          </button>
          {learn.isSuccess ? <span role="status">Looked at just now.</span> : null}
        </div>
      ) : null}
      {learn.error ? <Refused error={learn.error} what="this platform" /> : null}
    </section>
  );
}

function Shifts({ shifts }: { readonly shifts: PlatformExpectation['shifts'] }) {
  return (
    <details>
      <summary>By how much it differs from its kind</summary>
      <div className="table-wrap">
        <table>
          <caption>Pressures stand as their saturation temperature</caption>
          <thead>
            <tr>
              <th scope="col">Reading</th>
              <th scope="col" className="number">
                Shift
              </th>
              <th scope="col" className="number">
                Still open, ±
              </th>
            </tr>
          </thead>
          <tbody>
            {shifts.map(({ quantity, unit, shift, error }) => (
              <tr key={quantity}>
                <th scope="row">{words(quantity)}</th>
                <td className="number">{inUnit(shift, unit, true)}</td>
                <td className="number">{inUnit(error, unit, false)}</td>
              </tr>
            ))}
          </tbody>
        </table>
      </div>
    </details>
  );
}

function inUnit(value: number, unit: PlatformExpectation['shifts'][number]['unit'], signed: boolean): string {
  const digits = Math.abs(value).toFixed(unit === 'K' ? 1 : 2);
  const sign = !signed || Number(digits) === 0 ? '' : value < 0 ? '−' : '+';
  return `${sign}${digits}${unit === 'K' ? ' K' : ''}`;
}
