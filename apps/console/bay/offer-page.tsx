import { faultCodeValues, type HoldingAnswer, type HoldingOption } from '../client/generated/api.ts';
import { useDiagnoses, usePlatforms, useShops } from '../client/queries.ts';
import { Intent } from '../recurrences/intent.tsx';
import { Nothing, Refused, Waiting } from '../shell/states.tsx';
import { count, day, inSentence, percent, said, words } from '../shell/words.ts';
import { estimated, moneyOf, useHoldingOdds } from './holding.tsx';
import { HoldingCurves } from './holding-curves.tsx';

/** One page to hand to the owner of the car: what is wrong, what can be done, how long each held on cars like this, and what it costs. */
export function OfferPage({ search }: { readonly search: URLSearchParams }) {
  const shopId = search.get('shop');
  const platformId = search.get('platform');
  const caseId = search.get('case');
  const fault = faultCodeValues.find((one) => one === search.get('fault'));
  const odds = useHoldingOdds(shopId, platformId, fault);
  const shops = useShops();
  const platforms = usePlatforms();
  const shop = shops.data?.find(({ id }) => id === shopId);
  const platform = platforms.data?.find(({ id }) => id === platformId);
  if (shopId === null || fault === undefined) {
    return (
      <div className="stack">
        <h1>For the owner</h1>
        <Nothing title="This address names no offer.">
          Open a case or judge readings in <a href="#/bay">the bay</a>, then press “One page for the owner”.
        </Nothing>
      </div>
    );
  }
  return (
    <article className="stack owner-page">
      <div className="row spread">
        <h1>Your car’s air conditioning: what can be done</h1>
        <div className="row no-print">
          <a className="button" href={caseId === null ? '#/bay' : `#/bay/case/${caseId}`}>
            Back
          </a>
          <button type="button" className="primary" onClick={() => window.print()}>
            Print
          </button>
        </div>
      </div>
      <p className="quiet">
        {shop?.name ?? ''}
        {platform ? `, ${platform.name}` : ''}. {odds.data ? day(odds.data.from) : ''}
      </p>
      <section className="stack" aria-label="What is wrong">
        <h2>What is wrong</h2>
        {caseId === null ? <p className="owner">Most likely: {inSentence(fault)}.</p> : <OwnerParagraph caseId={caseId} fault={fault} />}
      </section>
      {odds.error ? (
        <Refused error={odds.error} what="how repairs hold" again={() => odds.refetch()} />
      ) : odds.data ? (
        <Offered odds={odds.data} />
      ) : (
        <Waiting what="how repairs held" />
      )}
    </article>
  );
}

function OwnerParagraph({ caseId, fault }: { readonly caseId: string; readonly fault: string }) {
  const diagnoses = useDiagnoses(caseId);
  if (diagnoses.error) return <Refused error={diagnoses.error} what="this case" again={() => diagnoses.refetch()} />;
  return <p className="owner">{diagnoses.data?.data[0]?.result.ownerParagraph ?? `Most likely: ${inSentence(fault)}.`}</p>;
}

function Offered({ odds }: { readonly odds: HoldingAnswer }) {
  const options = estimated(odds);
  const money = moneyOf(odds);
  if (options.length === 0) {
    return <Nothing title="Too few such repairs were followed to say how long they hold.">{said(odds.message)}</Nothing>;
  }
  return (
    <>
      <section className="stack" aria-label="What can be done">
        <h2>What can be done</h2>
        <ul className="choices">
          {options.map((option) => (
            <li key={`${option.action} ${option.intent}`}>
              <span className="tick" aria-hidden="true" />
              <div>
                <strong>{words(option.action)}</strong> <Intent intent={option.intent} />
                <p>{inWords(option, odds, money)}</p>
              </div>
            </li>
          ))}
        </ul>
        {odds.breakEven ? <p>{capital(said(odds.breakEven.message))}</p> : null}
      </section>
      <section className="stack" aria-label="How long such repairs held">
        <h2>How long such repairs held</h2>
        <HoldingCurves odds={odds} options={options} />
      </section>
      <section className="stack" aria-label="Read with care">
        <h2>Read with care</h2>
        <ul className="bullets small">
          <li>
            These are shares of past repairs, not a promise for this car. The ranges are those within which the true share lies 95 times in
            100.
          </li>
          {odds.cautions.map((caution) => (
            <li key={caution}>{said(caution)}</li>
          ))}
          <li>
            The refrigerant is recovered, never vented, by certified people with approved equipment. Licensed practice, the maker’s
            procedure and local code decide.
          </li>
        </ul>
      </section>
      <p className="signature">
        <span>My choice is ticked above.</span>
        <span>Date and name</span>
      </p>
    </>
  );
}

const capital = (text: string) => text.charAt(0).toUpperCase() + text.slice(1);
const inHundred = (share: number) => Math.round(100 * share);

/** The figures of one option as one would say them. */
function inWords(option: HoldingOption, odds: HoldingAnswer, money: Intl.NumberFormat): string {
  const season = odds.hasHotSeason ? ', when the next hot season ends' : '';
  const parts = [
    `Of 100 cars repaired this way today, about ${inHundred(option.holding!)} will not be back by ${day(odds.until)}${season} (between ${inHundred(option.low!)} and ${inHundred(option.high!)}; ${count(option.episodes)} repairs were followed${option.borrowed > 0.5 ? ', mostly on other cars' : ''}).`,
  ];
  if (option.price !== null) parts.push(`It costs about ${money.format(option.price)}.`);
  if (option.expectedCost !== null && option.price !== null)
    parts.push(`Counting the cars that come back, about ${money.format(option.expectedCost)}.`);
  if (option.price === null) parts.push(`No price is recorded; ask the shop. ${percent(1 - option.holding!)} of such repairs come back.`);
  return parts.join(' ');
}
