import { useQuery } from '@tanstack/react-query';
import { answer, server } from '../client/client.ts';
import type { Case, DiagnosisQuestion, DiagnosisResult, NewReading, Reading } from '../client/generated/api.ts';
import { Heads } from '../shell/heads.tsx';
import { Refused, Waiting } from '../shell/states.tsx';
import { percent, words } from '../shell/words.ts';
import { isUnreadable, numberOf } from './draft.ts';
import { NumberField } from './fields.tsx';
import { expectedAsTyped, isOfOnePlace, typedText, type Units, unitName } from './quantities.ts';
import { RecordForm, useRecord } from './record.tsx';
import { MORE_SLOTS, REST_SLOTS, RUNNING_SLOTS, type Slot } from './slots.ts';

const SLOTS: readonly Slot[] = [...RUNNING_SLOTS, ...REST_SLOTS, ...MORE_SLOTS.filter(({ meaning }) => meaning === undefined)];
const ALWAYS = RUNNING_SLOTS.length;

/** Readings taken after the repair: they prove it, or show that something is left. */
export function AfterReadings({ found, units }: { readonly found: Case; readonly units: Units }) {
  const { typed, change, record } = useRecord(`after.${found.id}`, {} as Record<string, string>, (values, key) =>
    answer(
      server.POST('/v1/cases/{id}/readings', {
        params: { path: { id: found.id }, header: { 'Idempotency-Key': key } },
        body: { readings: readingsOf(values, units) },
      }),
    ),
  );
  const field = (slot: Slot) => (
    <NumberField
      key={slot.id}
      label={slot.label}
      unit={unitName(slot.unit ?? (slot.quantity === 'pressure' ? units.pressure : units.temperature))}
      value={typed[slot.id] ?? ''}
      change={(value) => change({ [slot.id]: value })}
    />
  );
  const values = Object.values(typed);
  return (
    <RecordForm
      title="Readings after the repair"
      button="Add the readings"
      ready={values.some((value) => numberOf(value) !== null) && !values.some(isUnreadable)}
      record={record}
    >
      <small>Under the same conditions as before, running for ten minutes: then the two can be compared.</small>
      <div className="fields">{SLOTS.slice(0, ALWAYS).map(field)}</div>
      <details>
        <summary>At rest, and tube temperatures</summary>
        <div className="fields">{SLOTS.slice(ALWAYS).map(field)}</div>
      </details>
    </RecordForm>
  );
}

function readingsOf(values: Readonly<Record<string, string>>, units: Units): NewReading[] {
  return SLOTS.flatMap((slot) => {
    const value = numberOf(values[slot.id] ?? '');
    if (value === null) return [];
    const { id: _id, label: _label, unit, ...what } = slot;
    return [{ ...what, stage: 'after' as const, value, unit: unit ?? (slot.quantity === 'pressure' ? units.pressure : units.temperature) }];
  });
}

/** The readings after the repair, judged as if the car came in with them. Nothing of it is stored. */
function questionAfter(found: Case): DiagnosisQuestion | null {
  const after = found.evidence.readings.filter(({ stage }) => stage === 'after');
  if (after.length === 0 || found.platformId === null) return null;
  return {
    shopId: found.shopId,
    platformId: found.platformId,
    evidence: {
      conditions: found.evidence.conditions,
      readings: after.map(({ id: _id, si: _si, siUnit: _unit, stage: _stage, ...reading }) => reading),
    },
  };
}

const placeKey = ({ quantity, place, phase, meaning }: Reading) => [quantity, place, phase, meaning].join(' ');

/** Before, after and healthy side by side, with what the engine makes of the readings after. */
export function BeforeAfter({ found, before }: { readonly found: Case; readonly before: DiagnosisResult | null }) {
  const question = questionAfter(found);
  const after = useQuery({
    queryKey: ['after', found.id, found.evidenceRevision],
    enabled: question !== null,
    queryFn: () => answer(server.POST('/v1/diagnoses', { body: question! })),
  });
  const readings = found.evidence.readings.filter(({ stage }) => stage === 'after');
  if (readings.length === 0) return null;
  const earlier = new Map(found.evidence.readings.filter(({ stage }) => stage !== 'after').map((one) => [placeKey(one), one]));
  const healthy = (reading: Reading, i: number): string => {
    const line = after.data?.ledger.find((one) => isOfOnePlace(one) && one.readings[0] === `r${i + 1}`);
    const expected = line ? expectedAsTyped(reading, line) : null;
    return expected === null ? '–' : `${expected.toFixed(reading.unit === 'bar' ? 1 : 0)} ${unitName(reading.unit)}`;
  };
  const leader = after.data?.faults[0];
  const sound = after.data?.faults.find(({ code }) => code === 'healthy')?.probability;
  return (
    <section className="sheet stack" aria-label="After the repair">
      <h2>After the repair</h2>
      <table>
        <Heads of={[['Where'], ['Before', 'number'], ['After', 'number'], ['Healthy', 'number']]} />
        <tbody>
          {readings.map((reading, i) => {
            const old = earlier.get(placeKey(reading));
            return (
              <tr key={reading.id}>
                <th scope="row">
                  {words(reading.place ?? 'place-not-noted')}
                  {reading.phase ? `, ${reading.phase}` : ''}
                </th>
                <td className="number">{old ? typedText(old) : '–'}</td>
                <td className="number">
                  <strong>{typedText(reading)}</strong>
                </td>
                <td className="number">{healthy(reading, i)}</td>
              </tr>
            );
          })}
        </tbody>
      </table>
      {question === null ? (
        <p className="quiet">The platform is not known, so these cannot be judged.</p>
      ) : after.error ? (
        <Refused error={after.error} what="the readings after the repair" again={() => after.refetch()} />
      ) : after.data ? (
        <p>
          <strong>
            {after.data.status === 'cannot-tell'
              ? `These alone cannot tell: ${after.data.reason}`
              : leader?.code === 'healthy'
                ? 'Nothing is left to see in these readings.'
                : `Something may be left: ${leader?.name}.`}
          </strong>{' '}
          {sound === undefined ? '' : `No fault: ${percent(sound)}.`}{' '}
          {before ? 'A repair with a weighed charge also cures charge and air, so good readings prove the package, not one cause.' : ''}
        </p>
      ) : (
        <Waiting what="what the engine makes of them" />
      )}
    </section>
  );
}
