import {
  airSourceValues,
  fanStateValues,
  type Platform,
  placeValues,
  readingPhaseValues,
  readingQuantityValues,
} from '../client/generated/api.ts';
import { Choice } from '../shell/choice.tsx';
import { words } from '../shell/words.ts';
import type { Draft, OtherReading } from './draft.ts';
import { FaceForm } from './face-form.tsx';
import { NumberField, Part } from './fields.tsx';
import { type PressureUnit, type TemperatureUnit, unitName } from './quantities.ts';
import { FINDING_GROUPS, MORE_SLOTS, REST_SLOTS, RUNNING_SLOTS, type Slot } from './slots.ts';
import { TraceForm } from './trace-form.tsx';

export interface FormProps {
  readonly draft: Draft;
  readonly change: (parts: Partial<Draft>) => void;
}

const named = <T extends string>(codes: readonly T[]) => codes.map((code) => [code, words(code)] as const);
export function ConditionsForm({ draft, change }: FormProps) {
  const degrees = unitName(draft.temperatureUnit);
  return (
    <Part title="Conditions" note="Leave out what you do not know: nothing is assumed in its place.">
      <div className="fields">
        <NumberField label="Air outside" unit={degrees} value={draft.outsideAir} change={(outsideAir) => change({ outsideAir })} />
        <NumberField label="Humidity" unit="%" value={draft.humidity} change={(humidity) => change({ humidity })} />
        <NumberField label="Running for" unit="min" value={draft.minutesRunning} change={(minutesRunning) => change({ minutesRunning })} />
        <Choice
          label="Cabin air"
          value={draft.airSource}
          options={named(airSourceValues)}
          none="not noted"
          change={(airSource) => change({ airSource })}
        />
        <Choice
          label="Condenser fan"
          value={draft.condenserFan}
          options={named(fanStateValues)}
          none="not noted"
          change={(condenserFan) => change({ condenserFan })}
        />
        <NumberField label="Engine speed" unit="/min" value={draft.engineSpeed} change={(engineSpeed) => change({ engineSpeed })} />
        <NumberField label="Stood still for" unit="h" value={draft.hoursSoaked} change={(hoursSoaked) => change({ hoursSoaked })} />
        <NumberField
          label="Parts were at"
          unit={degrees}
          value={draft.soakTemperature}
          change={(soakTemperature) => change({ soakTemperature })}
        />
      </div>
    </Part>
  );
}

export function ReadingsForm({ draft, change, platforms }: FormProps & { readonly platforms: readonly Platform[] }) {
  const slots = (list: readonly Slot[]) => (
    <div className="fields">
      {list.map((slot) => (
        <NumberField
          key={slot.id}
          label={slot.label}
          unit={unitName(slot.unit ?? (slot.quantity === 'pressure' ? draft.pressureUnit : draft.temperatureUnit))}
          value={draft.values[slot.id] ?? ''}
          change={(typed) => change({ values: { ...draft.values, [slot.id]: typed } })}
        />
      ))}
    </div>
  );
  return (
    <Part title="Readings">
      <div className="fields">
        <Choice<PressureUnit>
          label="Pressures in"
          value={draft.pressureUnit}
          options={[
            ['[psi]', 'psi'],
            ['bar', 'bar'],
            ['kPa', 'kPa'],
          ]}
          none={null}
          change={(pressureUnit) => pressureUnit !== '' && change({ pressureUnit })}
        />
        <Choice<TemperatureUnit>
          label="Temperatures in"
          value={draft.temperatureUnit}
          options={[
            ['Cel', '°C'],
            ['[degF]', '°F'],
          ]}
          none={null}
          change={(temperatureUnit) => temperatureUnit !== '' && change({ temperatureUnit })}
        />
      </div>
      <div className="readings">
        <h3>At rest, compressor off and pressures even</h3>
        {slots(REST_SLOTS)}
        <h3>Running</h3>
        {slots(RUNNING_SLOTS)}
      </div>
      <details>
        <summary>Tube temperatures, weight, identifier</summary>
        {slots(MORE_SLOTS)}
      </details>
      <FaceForm draft={draft} change={change} platform={platforms.find(({ id }) => id === draft.platformId) ?? null} />
      <TraceForm draft={draft} change={change} />
      <details>
        <summary>Any other reading</summary>
        <OtherReadings draft={draft} change={change} />
      </details>
    </Part>
  );
}

function OtherReadings({ draft, change }: FormProps) {
  const put = (id: string, parts: Partial<OtherReading>) =>
    change({ others: draft.others.map((one) => (one.id === id ? { ...one, ...parts } : one)) });
  return (
    <div className="stack">
      {draft.others.map((one) => (
        <div className="fields" key={one.id}>
          <Choice
            label="What"
            value={one.quantity}
            options={named(readingQuantityValues)}
            none={null}
            change={(quantity) => quantity !== '' && put(one.id, { quantity })}
          />
          <Choice
            label="Where"
            value={one.place}
            options={named(placeValues)}
            none="not known"
            change={(place) => put(one.id, { place })}
          />
          <Choice
            label="When"
            value={one.phase}
            options={named(readingPhaseValues)}
            none="not known"
            change={(phase) => put(one.id, { phase })}
          />
          <NumberField label="Value" unit="" value={one.value} change={(value) => put(one.id, { value })} />
          <label className="field">
            <span>Unit (UCUM)</span>
            <input value={one.unit} onChange={({ target }) => put(one.id, { unit: target.value })} autoComplete="off" />
          </label>
          <button type="button" onClick={() => change({ others: draft.others.filter(({ id }) => id !== one.id) })}>
            Take out
          </button>
        </div>
      ))}
      <button
        type="button"
        onClick={() =>
          change({
            others: [
              ...draft.others,
              { id: crypto.randomUUID(), quantity: 'pressure', place: '', phase: 'running', value: '', unit: draft.pressureUnit },
            ],
          })
        }
      >
        Add a reading
      </button>
    </div>
  );
}

export function FindingsForm({ draft, change }: FormProps) {
  return (
    <Part title="Seen, heard, felt">
      {FINDING_GROUPS.map(({ name, codes }) => {
        const chosen = codes.filter((code) => draft.findings.includes(code)).length;
        return (
          <details key={name}>
            <summary>
              {name}
              {chosen > 0 ? ` (${chosen})` : ''}
            </summary>
            <div className="chips">
              {codes.map((code) => (
                <label key={code} className="chip">
                  <input
                    type="checkbox"
                    checked={draft.findings.includes(code)}
                    onChange={({ target }) =>
                      change({ findings: target.checked ? [...draft.findings, code] : draft.findings.filter((one) => one !== code) })
                    }
                  />
                  {words(code)}
                </label>
              ))}
            </div>
          </details>
        );
      })}
    </Part>
  );
}
