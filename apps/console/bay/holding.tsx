import { useQuery } from '@tanstack/react-query';
import { useState } from 'react';
import { answer, server } from '../client/client.ts';
import {
  type DiagnosisResult,
  type FaultCode,
  faultCodeValues,
  type HoldingAnswer,
  type HoldingOption,
  type Policy,
} from '../client/generated/api.ts';
import { Fineprint } from '../recurrences/fineprint.tsx';
import { Intent } from '../recurrences/intent.tsx';
import { IntervalBar, IntervalScale } from '../recurrences/interval-bar.tsx';
import { Choice } from '../shell/choice.tsx';
import { address } from '../shell/route.ts';
import { Nothing, Refused, Waiting } from '../shell/states.tsx';
import { count, day, inSentence, percent, said, words } from '../shell/words.ts';
import { HoldingCurves } from './holding-curves.tsx';
import { broken, Policies, usePolicies } from './policies.tsx';

interface Props {
  readonly shopId: string | null;
  readonly platformId: string | null;
  readonly faults: readonly FaultCode[];
  readonly caseId: string | null;
  /** Writes an option down as offered; null where nothing can be written. */
  readonly offer: ((option: HoldingOption) => void) | null;
}

/** Faults of an answer that a repair can be offered for, most probable first. */
export function repairable(result: DiagnosisResult, proved: readonly FaultCode[] = []): readonly FaultCode[] {
  const leading = result.faults.map(({ code }) => faultCodeValues.find((fault) => fault === code && fault !== 'healthy'));
  return [...new Set([...proved, ...leading.filter((code) => code !== undefined)])].slice(0, 5);
}

export function useHoldingOdds(shopId: string | null, platformId: string | null, fault: FaultCode | undefined) {
  return useQuery({
    queryKey: ['holding', shopId, platformId, fault],
    enabled: shopId !== null && fault !== undefined,
    queryFn: () =>
      answer(
        server.GET('/v1/outcomes/holding-odds', {
          params: { query: { shopId: shopId!, fault: fault!, ...(platformId === null ? {} : { platformId }) } },
        }),
      ),
  });
}

export const estimated = (odds: HoldingAnswer): readonly HoldingOption[] => odds.options.filter(({ verdict }) => verdict === 'estimated');
export const moneyOf = ({ currency }: HoldingAnswer) =>
  new Intl.NumberFormat('en', { style: 'currency', currency, maximumFractionDigits: 0 });

/** What each way to repair would cost and how long it would hold at this shop, so that the owner can choose with honest odds. */
export function Holding({ shopId, platformId, faults, caseId, offer }: Props) {
  const [chosen, choose] = useState<FaultCode | ''>('');
  const fault = faults.find((one) => one === chosen) ?? faults[0];
  const odds = useHoldingOdds(shopId, platformId, fault);
  const policies = usePolicies(platformId);
  if (fault === undefined) return null;
  return (
    <section className="sheet stack" aria-label="What to offer the owner">
      <div className="row spread">
        <h2>What to offer the owner</h2>
        <div className="row">
          <Choice
            label="If it is"
            value={fault}
            options={faults.map((code) => [code, inSentence(code)] as const)}
            none={null}
            change={choose}
          />
          {shopId === null ? null : (
            <a className="button no-print" href={address('/bay/offer', { shop: shopId, platform: platformId, fault, case: caseId })}>
              One page for the owner
            </a>
          )}
        </div>
      </div>
      <Policies policies={(policies.data ?? []).filter((one) => one.fault === fault)} fault={fault} />
      {shopId === null ? (
        <Nothing title="How long a repair holds depends on the shop’s climate and prices.">
          Choose a shop on the left, then judge again.
        </Nothing>
      ) : odds.error ? (
        <Refused error={odds.error} what="how repairs hold" again={() => odds.refetch()} />
      ) : odds.data ? (
        <Options odds={odds.data} policies={policies.data ?? []} offer={offer} />
      ) : (
        <Waiting what="how repairs held" />
      )}
    </section>
  );
}

const capital = (text: string) => text.charAt(0).toUpperCase() + text.slice(1);

interface OptionsProps {
  readonly odds: HoldingAnswer;
  readonly policies: readonly Policy[];
  readonly offer: Props['offer'];
}

function Options({ odds, policies, offer }: OptionsProps) {
  const known = estimated(odds);
  if (known.length === 0) return <Nothing title="Too few such repairs were followed.">{said(odds.message)}</Nothing>;
  const money = moneyOf(odds);
  return (
    <>
      <div className="table-wrap">
        <table>
          <caption>
            Of repairs done today, the share still holding on {day(odds.until)}
            {odds.hasHotSeason ? ', when the next hot season ends here' : ''}
          </caption>
          <thead>
            <tr>
              <th scope="col">Repair</th>
              <th scope="col" className="holding-bar">
                Still holding
                <IntervalScale sparse />
              </th>
              <th scope="col" className="number">
                Holding
              </th>
              <th scope="col" className="number">
                Price
              </th>
              <th scope="col" className="number">
                With returns
              </th>
              <th scope="col" className="number">
                Stands on
              </th>
              {offer ? (
                <td className="no-print">
                  <span className="unseen">Offer it</span>
                </td>
              ) : null}
            </tr>
          </thead>
          <tbody>
            {known.map((option) => (
              <tr key={`${option.action} ${option.intent}`}>
                <th scope="row">
                  {words(option.action)}
                  <br />
                  <Intent intent={option.intent} />
                  {broken(policies, odds.fault, option.action) ? (
                    <>
                      <br />
                      <span className="flag">against a policy</span>
                    </>
                  ) : null}
                </th>
                <td className="holding-bar">
                  <IntervalBar
                    intent={option.intent}
                    probability={option.holding!}
                    low={option.low!}
                    high={option.high!}
                    elsewhere={null}
                  />
                </td>
                <td className="number">
                  <strong>{percent(option.holding!)}</strong>{' '}
                  <span className="quiet">
                    ({(100 * option.low!).toFixed(0)}–{(100 * option.high!).toFixed(0)})
                  </span>
                </td>
                <td className="number">{option.price === null ? '–' : money.format(option.price)}</td>
                <td className="number">{option.expectedCost === null ? '–' : money.format(option.expectedCost)}</td>
                <td className="number">{count(option.episodes)} repairs</td>
                {offer ? (
                  <td className="no-print">
                    <button type="button" onClick={() => offer(option)}>
                      Offer<span className="unseen"> {words(option.action)}</span>
                    </button>
                  </td>
                ) : null}
              </tr>
            ))}
          </tbody>
        </table>
      </div>
      <ul className="bullets owner">
        {known.map((option) => (
          <li key={`${option.action} ${option.intent}`}>{capital(option.words)}</li>
        ))}
      </ul>
      <HoldingCurves odds={odds} options={known} />
      {odds.breakEven ? <p>{capital(said(odds.breakEven.message))}</p> : null}
      <Fineprint cautions={odds.cautions} definitions={odds.definitions} />
    </>
  );
}
