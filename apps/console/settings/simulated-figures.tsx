import type { EngineQuality } from '../client/generated/api.ts';
import { count, decimal, percent } from '../shell/words.ts';

type Study = EngineQuality['simulated'];

/** Figures of the study on simulated systems, set apart from those of vehicles. */
export function SimulatedFigures({ study }: { readonly study: Study }) {
  return (
    <details className="sheet">
      <summary>On simulated systems (not accuracy on vehicles)</summary>
      <div className="stack">
        <p>
          <strong>{study.statement}</strong> Engine {study.engineVersion}. {study.split}
        </p>
        <Rows caption="By what was read" rows={study.bySet} />
        <Rows caption="By layout" rows={study.byLayout} />
      </div>
    </details>
  );
}

function Rows({ caption, rows }: { readonly caption: string; readonly rows: Study['bySet'] }) {
  return (
    <div className="table-wrap">
      <table>
        <caption>{caption}</caption>
        <thead>
          <tr>
            <th scope="col">Group</th>
            {[
              'Simulated cases',
              'First right',
              'Among three',
              'False alarms',
              'Missed',
              'Wrong fault',
              'Cannot tell',
              'Log loss',
              'Slope',
            ].map((head) => (
              <th key={head} scope="col" className="number">
                {head}
              </th>
            ))}
          </tr>
        </thead>
        <tbody>
          {rows.map((row) => (
            <tr key={row.name}>
              <th scope="row">{row.name}</th>
              <td className="number">{count(row.n)}</td>
              {[row.top1, row.top3, row.falseAlarms, row.missed, row.misdiagnosed, row.noResponse].map((share, i) => (
                <td key={HEADS[i]} className="number">
                  {percent(share)}
                </td>
              ))}
              <td className="number">{decimal(row.logLoss)}</td>
              <td className="number">{decimal(row.slope)}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}

const HEADS = ['top1', 'top3', 'falseAlarms', 'missed', 'misdiagnosed', 'noResponse'] as const;
