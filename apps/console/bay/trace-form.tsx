import { Choice } from '../shell/choice.tsx';
import type { DraftTrace } from './draft.ts';
import type { FormProps } from './forms.tsx';
import type { PressureUnit } from './quantities.ts';
import { TextOrFile } from './text-or-file.tsx';
import { readTrace } from './trace.ts';
import { TracePlot } from './trace-plot.tsx';

const MAX_TRACES = 4;
const PLACES = [
  ['low-side-port', 'Low side'],
  ['high-side-port', 'High side, gauge'],
  ['high-side-transducer', 'High side, car’s transducer'],
] as const;

/** Pressures over time, out of a logger: read here, drawn at once, judged with the rest. */
export function TraceForm({ draft, change }: FormProps) {
  const { traces, traceAt } = draft;
  return (
    <details>
      <summary>Pressure over time{traces.length > 0 ? ` (${traces.length})` : ''}</summary>
      <div className="stack">
        {traces.map((trace, i) => (
          <div className="stack" key={trace.id}>
            <TracePlot samples={trace.samples} unit={trace.unit} name={nameOf(trace)} picture={null} narrow />
            <div className="row">
              <button type="button" onClick={() => change({ traces: traces.filter((_, at) => at !== i) })}>
                Take out: {nameOf(trace)}
              </button>
            </div>
          </div>
        ))}
        {traces.length >= MAX_TRACES ? null : (
          <>
            <div className="fields">
              <Choice<DraftTrace['place']>
                label="Taken at"
                value={traceAt}
                options={PLACES}
                none={null}
                change={(place) => place !== '' && change({ traceAt: place })}
              />
            </div>
            <TextOrFile
              summary="From a logger: CSV or JSON"
              hint={`Time, then pressure in ${UNITS[draft.pressureUnit]} as the gauge shows it. A minute at least; two whole cycles show period and duty.`}
              accept=".csv,.tsv,.txt,.json"
              read={(text) => {
                const read = readTrace(text);
                if (read.ok) {
                  const trace: DraftTrace = { id: crypto.randomUUID(), place: traceAt, unit: draft.pressureUnit, samples: read.value };
                  change({ traces: [...traces, trace] });
                }
                return read;
              }}
            />
          </>
        )}
      </div>
    </details>
  );
}

const UNITS: Readonly<Record<PressureUnit, string>> = { '[psi]': 'psi', bar: 'bar', kPa: 'kPa' };
const nameOf = ({ place }: DraftTrace) => PLACES.find(([code]) => code === place)![1];
