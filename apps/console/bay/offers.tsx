import { useMutation, useQueryClient } from '@tanstack/react-query';
import { useState } from 'react';
import { answer, server } from '../client/client.ts';
import {
  type Case,
  type OfferOutcome,
  type Policy,
  type RepairAction,
  type RepairIntent,
  type RepairOffer,
  repairActionValues,
  repairIntentValues,
} from '../client/generated/api.ts';
import { INTENT_NAMES, Intent } from '../recurrences/intent.tsx';
import { Choice } from '../shell/choice.tsx';
import { Refused } from '../shell/states.tsx';
import { count, words } from '../shell/words.ts';
import { isUnreadable, numberOf } from './draft.ts';
import { NumberField, TextField } from './fields.tsx';
import { broken, policyText } from './policies.tsx';
import { foundNoServer, useSendAgain } from './sending.ts';

/** Writes the offers of a case whole. Somebody else's change in between is refused by its version, and the list is fetched again. */
export function useOffers(found: Case) {
  const client = useQueryClient();
  const write = useMutation({
    mutationFn: (offers: readonly RepairOffer[]) =>
      answer(
        server.PATCH('/v1/cases/{id}', {
          params: { path: { id: found.id }, header: { 'If-Match': `"${found.version}"` } },
          body: { evidence: { offers: [...offers] } },
          headers: { 'content-type': 'application/merge-patch+json' },
        }),
      ),
    onSettled: () => client.invalidateQueries({ queryKey: ['case', found.id] }),
  });
  useSendAgain(foundNoServer(write.error), () => write.variables && write.mutate(write.variables));
  return write;
}

interface Props {
  readonly found: Case;
  readonly write: ReturnType<typeof useOffers>;
  readonly policies: readonly Policy[];
  readonly changeable: boolean;
  readonly currency: string | null;
}

const NEXT: Readonly<Record<OfferOutcome, string>> = { offered: 'no answer yet', chosen: 'chosen', declined: 'declined' };

/** What was put to the owner, and what became of it. */
export function Offers({ found, write, policies, changeable, currency }: Props) {
  const { offers } = found.evidence;
  const fault = found.provedFaults[0] ?? found.leadingFault;
  const put = (at: number, parts: Partial<RepairOffer>) => write.mutate(offers.map((one, i) => (i === at ? { ...one, ...parts } : one)));
  return (
    <section className="sheet stack" aria-label="Offered to the owner">
      <h2>Offered to the owner</h2>
      {offers.length === 0 ? (
        <p className="quiet">
          {changeable ? 'Nothing yet. Add a repair below, or with “Offer” beside the odds.' : 'Nothing was written down.'}
        </p>
      ) : (
        <ul className="offers">
          {offers.map((offer, i) => {
            const against = policies.find((one) => one.fault === fault)
              ? broken(policies, policies.find((one) => one.fault === fault)!.fault, offer.action)
              : null;
            return (
              <li key={`${offer.action} ${offer.intent} ${i === 0 ? 'first' : i}`}>
                <div>
                  <strong>{words(offer.action)}</strong> <Intent intent={offer.intent} />
                  {offer.price === undefined ? '' : `, ${count(offer.price)} ${currency ?? ''}`}
                  <br />
                  <span className={`outcome-${offer.outcome}`}>{NEXT[offer.outcome]}</span>
                  {offer.reason ? `: ${offer.reason}` : ''}
                  {against ? <p className="wrong">Against a policy: {policyText(against)}</p> : null}
                </div>
                {changeable ? (
                  <div className="row">
                    {(['chosen', 'declined'] as const)
                      .filter((outcome) => outcome !== offer.outcome)
                      .map((outcome) => (
                        <button key={outcome} type="button" disabled={write.isPending} onClick={() => put(i, { outcome })}>
                          {outcome === 'chosen' ? 'Chosen' : 'Declined'}
                          <span className="unseen">: {words(offer.action)}</span>
                        </button>
                      ))}
                    <button type="button" disabled={write.isPending} onClick={() => write.mutate(offers.filter((_, at) => at !== i))}>
                      Take out<span className="unseen"> {words(offer.action)}</span>
                    </button>
                  </div>
                ) : null}
              </li>
            );
          })}
        </ul>
      )}
      {write.error ? <Refused error={write.error} what="these offers" /> : null}
      {changeable ? <NewOffer add={(offer) => write.mutate([...offers, offer])} busy={write.isPending} currency={currency} /> : null}
    </section>
  );
}

interface NewOfferProps {
  readonly add: (offer: RepairOffer) => void;
  readonly busy: boolean;
  readonly currency: string | null;
}

function NewOffer({ add, busy, currency }: NewOfferProps) {
  const [action, setAction] = useState<RepairAction | ''>('');
  const [intent, setIntent] = useState<RepairIntent>('permanent');
  const [price, setPrice] = useState('');
  const [reason, setReason] = useState('');
  const [outcome, setOutcome] = useState<OfferOutcome>('offered');
  return (
    <details className="no-print">
      <summary>Add an offer</summary>
      <form
        className="stack"
        onSubmit={(event) => {
          event.preventDefault();
          if (action === '' || isUnreadable(price)) return;
          const value = numberOf(price);
          add({
            action,
            intent,
            outcome,
            ...(value === null ? {} : { price: value }),
            ...(reason.trim() === '' ? {} : { reason: reason.trim() }),
          });
          setAction('');
          setPrice('');
          setReason('');
        }}
      >
        <div className="form-row">
          <Choice
            label="Repair"
            value={action}
            options={repairActionValues.map((code) => [code, words(code)] as const)}
            none="choose"
            change={setAction}
          />
          <Choice
            label="Meant as"
            value={intent}
            options={repairIntentValues.map((code) => [code, INTENT_NAMES[code]] as const)}
            none={null}
            change={(one) => one !== '' && setIntent(one)}
          />
          <NumberField label="Price" unit={currency ?? ''} value={price} change={setPrice} />
          <Choice<OfferOutcome>
            label="The owner"
            value={outcome}
            options={[
              ['offered', 'has not answered'],
              ['chosen', 'chose it'],
              ['declined', 'declined it'],
            ]}
            none={null}
            change={(one) => one !== '' && setOutcome(one)}
          />
          <TextField label="Reason" value={reason} max={300} change={setReason} />
        </div>
        <div className="row">
          <button type="submit" className="primary" disabled={action === '' || busy}>
            Add the offer
          </button>
        </div>
      </form>
    </details>
  );
}
