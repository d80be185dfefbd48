import { useQuery } from '@tanstack/react-query';
import { useState } from 'react';
import { answer, server } from '../client/client.ts';
import { type DiagnosisResult, type FaultCode, faultCodeValues, type HoldingAnswer } from '../client/generated/api.ts';
import { Fineprint } from '../recurrences/fineprint.tsx';
import { Intent } from '../recurrences/intent.tsx';
import { IntervalBar, IntervalScale } from '../recurrences/interval-bar.tsx';
import { Choice } from '../shell/choice.tsx';
import { Nothing, Refused, Waiting } from '../shell/states.tsx';
import { count, day, inSentence, percent, words } from '../shell/words.ts';

interface Props {
  readonly shopId: string | null;
  readonly platformId: string | null;
  readonly faults: readonly FaultCode[];
}

/** Faults of an answer that a repair can be offered for, most probable first. */
export function repairable(result: DiagnosisResult, proved: readonly FaultCode[] = []): readonly FaultCode[] {
  const leading = result.faults.map(({ code }) => faultCodeValues.find((fault) => fault === code && fault !== 'healthy'));
  return [...new Set([...proved, ...leading.filter((code) => code !== undefined)])].slice(0, 5);
}

/** What each way to repair would cost and how long it would hold at this shop, so that the owner can choose with honest odds. */
export function Holding({ shopId, platformId, faults }: Props) {
  const [chosen, choose] = useState<FaultCode | ''>('');
  const fault = faults.find((one) => one === chosen) ?? faults[0];
  const odds = useQuery({
    queryKey: ['holding', shopId, platformId, fault],
    enabled: shopId !== null && fault !== undefined,
    queryFn: () =>
      answer(
        server.GET('/v1/outcomes/holding-odds', {
          params: { query: { shopId: shopId!, fault: fault!, ...(platformId === null ? {} : { platformId }) } },
        }),
      ),
  });
  if (fault === undefined) return null;
  return (
    <section className="sheet stack" aria-label="What to offer the owner">
      <div className="row spread">
        <h2>What to offer the owner</h2>
        <Choice
          label="If it is"
          value={fault}
          options={faults.map((code) => [code, inSentence(code)] as const)}
          none={null}
          change={choose}
        />
      </div>
      {shopId === null ? (
        <Nothing title="How long a repair holds depends on the shop’s climate and prices.">
          Choose a shop on the left, then judge again.
        </Nothing>
      ) : odds.error ? (
        <Refused error={odds.error} what="how repairs hold" again={() => odds.refetch()} />
      ) : odds.data ? (
        <Options odds={odds.data} />
      ) : (
        <Waiting what="how repairs held" />
      )}
    </section>
  );
}

const capital = (text: string) => text.charAt(0).toUpperCase() + text.slice(1);

function Options({ odds }: { readonly odds: HoldingAnswer }) {
  const known = odds.options.filter(({ verdict }) => verdict === 'estimated');
  if (known.length === 0) return <Nothing title="Too few such repairs were followed.">{odds.message}</Nothing>;
  const money = new Intl.NumberFormat('en', { style: 'currency', currency: odds.currency, maximumFractionDigits: 0 });
  return (
    <>
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
          </tr>
        </thead>
        <tbody>
          {known.map((option) => (
            <tr key={`${option.action} ${option.intent}`}>
              <th scope="row">
                {words(option.action)}
                <br />
                <Intent intent={option.intent} />
              </th>
              <td className="holding-bar">
                <IntervalBar intent={option.intent} probability={option.holding!} low={option.low!} high={option.high!} elsewhere={null} />
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
            </tr>
          ))}
        </tbody>
      </table>
      <ul className="bullets owner">
        {known.map((option) => (
          <li key={`${option.action} ${option.intent}`}>{capital(option.words)}</li>
        ))}
      </ul>
      {odds.breakEven ? <p>{capital(odds.breakEven.message)}</p> : null}
      <Fineprint cautions={odds.cautions} definitions={odds.definitions} />
    </>
  );
}
