import { useMutation, useQueryClient } from '@tanstack/react-query';
import { useRef } from 'react';
import { answer, newRequestKey, server } from '../client/client.ts';
import type { Case, Reading } from '../client/generated/api.ts';
import { useCase, useDiagnoses, useMe, usePlatforms, useShops } from '../client/queries.ts';
import { INTENT_NAMES } from '../recurrences/intent.tsx';
import { Heads } from '../shell/heads.tsx';
import { Nothing, Refused, Waiting } from '../shell/states.tsx';
import { count, day, inSentence, moment, words } from '../shell/words.ts';
import { AfterReadings, BeforeAfter } from './after.tsx';
import { Answer } from './answer.tsx';
import { AddFindings, CorrectRepair, RecordProof, RecordRepair } from './case-records.tsx';
import { CloseCase } from './closing.tsx';
import { Findings } from './corrections.tsx';
import { Holding, repairable } from './holding.tsx';
import { Offers, useOffers } from './offers.tsx';
import { Photographs } from './photographs.tsx';
import { usePolicies } from './policies.tsx';
import { PressureEnthalpy } from './pressure-enthalpy.tsx';
import { typedText, type Units } from './quantities.ts';
import { SimilarToCase } from './similar.tsx';

/** One case whole: what was read, what the engine made of it, what was proved and done. */
export function CasePage({ id }: { readonly id: string }) {
  const found = useCase(id);
  if (found.error) {
    return (
      <div className="stack">
        <h1>Case</h1>
        <Refused error={found.error} what="this case" again={() => found.refetch()} />
        <p>
          <a href="#/bay">Back to the bay</a>
        </p>
      </div>
    );
  }
  if (!found.data) return <Waiting what="the case" />;
  return <CaseOf found={found.data} />;
}

function CaseOf({ found }: { readonly found: Case }) {
  const platforms = usePlatforms();
  const shops = useShops();
  const me = useMe();
  const diagnoses = useDiagnoses(found.id);
  const client = useQueryClient();
  const key = useRef(newRequestKey());
  const again = useMutation({
    mutationFn: () =>
      answer(server.POST('/v1/cases/{id}/diagnoses', { params: { path: { id: found.id }, header: { 'Idempotency-Key': key.current } } })),
    onSuccess: () => {
      key.current = newRequestKey();
      return client.invalidateQueries();
    },
  });
  const platform = platforms.data?.find(({ id }) => id === found.platformId) ?? null;
  const shop = shops.data?.find(({ id }) => id === found.shopId);
  const latest = diagnoses.data?.data[0];
  const can = (permission: 'cases:write' | 'diagnoses:run') => me.data?.permissions.includes(permission) ?? false;
  const changeable = can('cases:write') && found.status === 'open';
  const policies = usePolicies(found.platformId).data ?? [];
  const offers = useOffers(found);
  const units = unitsOf(found.evidence.readings);
  return (
    <div className="stack">
      <div className="row spread">
        <h1>
          {platform?.name ?? 'Car of unknown platform'}, {inSentence(found.complaint)}
        </h1>
        <div className="row no-print">
          {can('diagnoses:run') && found.status === 'open' ? (
            <button type="button" onClick={() => again.mutate()} disabled={again.isPending}>
              Judge again
            </button>
          ) : null}
          <button type="button" onClick={() => window.print()}>
            Print
          </button>
        </div>
      </div>
      <p className="lead">
        {words(found.status)} at {shop?.name ?? 'a shop'} since {moment(found.openedAt)}
        {found.odometerKm === null ? '' : `, ${count(found.odometerKm)} km`}.{' '}
        {found.vehicleId === null ? 'The car is not identified.' : <a href={`#/bay/vehicle/${found.vehicleId}`}>The car’s past</a>}
      </p>
      {again.error ? <Refused error={again.error} what="a new answer" again={() => again.mutate()} /> : null}
      <div className="bay">
        <div className="stack">
          <Evidence found={found} changeable={changeable} />
          {changeable ? <AddFindings caseId={found.id} /> : null}
          <Offers found={found} write={offers} policies={policies} changeable={changeable} currency={shop?.currency ?? null} />
          <Proofs found={found} changeable={can('cases:write') && found.status !== 'void'} />
          {can('cases:write') && found.status !== 'void' ? (
            <>
              <RecordProof caseId={found.id} leading={found.leadingFault} />
              <RecordRepair caseId={found.id} leading={found.provedFaults[0] ?? found.leadingFault} platformId={found.platformId} />
            </>
          ) : null}
          <Photographs caseId={found.id} changeable={can('cases:write') && found.status !== 'void'} />
          {changeable ? <AfterReadings found={found} units={units} /> : null}
          <BeforeAfter found={found} before={latest?.result ?? null} />
          {changeable ? <CloseCase found={found} /> : null}
        </div>
        <div className="stack">
          {diagnoses.error ? (
            <Refused error={diagnoses.error} what="the engine’s answer" again={() => diagnoses.refetch()} />
          ) : diagnoses.isPending ? (
            <Waiting what="the engine’s answer" />
          ) : latest ? (
            <>
              {latest.caseRevision < found.evidenceRevision ? (
                <p className="state state-warning">
                  The evidence changed after this answer.{' '}
                  {can('diagnoses:run') ? 'Press Judge again.' : 'A technician’s key can have it judged again.'}
                </p>
              ) : null}
              <Answer
                result={latest.result}
                readings={found.evidence.readings}
                platform={platform}
                layout={null}
                maps={found.evidence.thermalMaps}
                traces={found.evidence.traces}
                units={units}
                cycle={
                  <PressureEnthalpy
                    of={['case', found.id, found.evidenceRevision]}
                    ask={() => answer(server.GET('/v1/cases/{id}/cycles', { params: { path: { id: found.id } } }))}
                    units={units}
                  />
                }
              />
            </>
          ) : (
            <Nothing title="The engine was not asked yet.">
              {can('diagnoses:run') ? 'Press Judge again.' : 'A technician’s key can have it judged.'}
            </Nothing>
          )}
          {latest ? (
            <>
              <Holding
                shopId={found.shopId}
                platformId={found.platformId}
                faults={repairable(latest.result, found.provedFaults)}
                caseId={found.id}
                offer={
                  changeable
                    ? ({ action, intent, price }) =>
                        offers.mutate([
                          ...found.evidence.offers,
                          { action, intent, outcome: 'offered', ...(price === null ? {} : { price: Math.round(price) }) },
                        ])
                    : null
                }
              />
              <SimilarToCase caseId={found.id} shops={shops.data ?? []} />
            </>
          ) : null}
        </div>
      </div>
    </div>
  );
}

/** A page speaks in the units the case was read in. */
function unitsOf(readings: readonly Reading[]): Units {
  const of = (quantity: Reading['quantity']) => readings.find((reading) => reading.quantity === quantity)?.unit;
  const pressure = of('pressure');
  return {
    pressure: pressure === 'bar' || pressure === 'kPa' ? pressure : '[psi]',
    temperature: of('temperature') === '[degF]' ? '[degF]' : 'Cel',
  };
}

interface PartProps {
  readonly found: Case;
  readonly changeable: boolean;
}

function Evidence({ found, changeable }: PartProps) {
  const { evidence, notes, complaintText, warnings } = found;
  return (
    <section className="sheet stack" aria-label="What was read">
      <h2>What was read</h2>
      {complaintText ? <p>{complaintText}</p> : null}
      {evidence.readings.length === 0 ? (
        <p className="quiet">No readings.</p>
      ) : (
        <table>
          <Heads of={[['Where'], ['When'], ['Value', 'number']]} />
          <tbody>
            {evidence.readings.map((reading) => (
              <tr key={reading.id}>
                <th scope="row">
                  {words(reading.meaning ?? reading.place ?? 'place-not-noted')}
                  {reading.stage === 'after' ? ' (after the repair)' : ''}
                </th>
                <td>{reading.phase ?? ''}</td>
                <td className="number">{typedText(reading)}</td>
              </tr>
            ))}
          </tbody>
        </table>
      )}
      <Findings found={found} changeable={changeable} />
      {notes ? <p>{notes}</p> : null}
      {warnings.length === 0 ? null : (
        <ul className="bullets">
          {warnings.map(({ pointer, code, detail, remedy }) => (
            <li key={`${pointer} ${code}`}>
              {detail} {remedy}
            </li>
          ))}
        </ul>
      )}
    </section>
  );
}

function Proofs({ found, changeable }: PartProps) {
  const { proofs, repairs } = found;
  return (
    <section className="sheet stack" aria-label="Found and done">
      <h2>Found and done</h2>
      {proofs.length + repairs.length === 0 ? <p className="quiet">Nothing recorded yet.</p> : null}
      <ul className="bullets">
        {proofs.map((proof) => (
          <li key={proof.id}>
            Proved by {inSentence(proof.method)}: {proof.faults.map(inSentence).join(' or ')}. {proof.note}
          </li>
        ))}
        {repairs.map((repair) => (
          <li key={repair.id}>
            {day(repair.day)}: {inSentence(repair.action)} for {inSentence(repair.fault)} ({INTENT_NAMES[repair.intent]}
            {repair.cost === null ? '' : `, ${count(repair.cost)}`}). {repair.note}
            {changeable ? <CorrectRepair found={found} repair={repair} /> : null}
          </li>
        ))}
      </ul>
    </section>
  );
}
