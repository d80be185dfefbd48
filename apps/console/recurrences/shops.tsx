import type { ShopReview, ShopReviewQuestion, ShopStanding, ShopVerdict } from '../client/generated/api.ts';
import { repairIntentValues } from '../client/generated/api.ts';
import { useShopReview } from '../client/outcome-queries.ts';
import { Forest } from '../plots/forest.tsx';
import { Answered } from '../shell/answered.tsx';
import { downloadCsv } from '../shell/csv.ts';
import { Heads } from '../shell/heads.tsx';
import { address, goTo } from '../shell/route.ts';
import { Nothing } from '../shell/states.tsx';
import { count, decimal, percent, plural, said } from '../shell/words.ts';
import { known, PeriodFilters, periodOf, periodParts } from './filters.tsx';
import { Fineprint } from './fineprint.tsx';
import { IntentChoice } from './group-choices.tsx';
import { ShopFunnel } from './shop-funnel.tsx';
import { shopName } from './shop-name.ts';

const PATH = '/recurrences/shops';
const VERDICTS: Readonly<Record<ShopVerdict, string>> = {
  above: 'More than explained',
  below: 'Fewer than explained',
  'as-expected': 'As explained',
  'not-enough': 'Too few to tell',
};

/** Each shop's returns against what its mix of cars and faults explains; how far its records can be trusted stands first. */
export function Shops({ search }: { readonly search: URLSearchParams }) {
  const intent = known(search.get('intent'), repairIntentValues);
  const question: ShopReviewQuestion = { ...periodOf(search), ...(intent ? { intent } : {}) };
  const query = useShopReview(question);
  return (
    <div className="stack">
      <div className="stack tight">
        <h1>Shops</h1>
        <p className="lead">{said(query.data?.message ?? 'Returns of each shop’s work against what its case mix explains.')}</p>
      </div>
      <PeriodFilters path={PATH} search={search}>
        <IntentChoice value={intent} change={(value) => goTo(address(PATH, { ...Object.fromEntries(search), intent: value }))} />
      </PeriodFilters>
      <Answered query={query} what="the shops">
        {(review) => <Review review={review} parts={{ ...periodParts(question), intent }} />}
      </Answered>
    </div>
  );
}

type Parts = Readonly<Record<string, string | undefined>>;

function Review({ review, parts }: { readonly review: ShopReview; readonly parts: Parts }) {
  if (review.shops.length === 0) {
    return (
      <Nothing title="No repairs to hold shops against.">
        Record repairs on cases, push them from your own software (<a href="#/feeds">how to push</a>), or ask for a longer period.
      </Nothing>
    );
  }
  const repairsOf = ({ shopId }: ShopStanding) =>
    shopId === null ? undefined : address('/recurrences/repairs', { ...parts, shop: shopId });
  return (
    <>
      <section className="sheet stack" aria-label="How far the records can be trusted">
        <div className="row spread">
          <h2>First: how far the records can be trusted</h2>
          <button type="button" className="no-print" onClick={() => saveReview(review)}>
            CSV
          </button>
        </div>
        <p className="quiet">A shop that records or links little looks good below. Figures under three quarters are set apart.</p>
        <CompletenessTable shops={review.shops} parts={parts} />
        {review.withheld === 0 ? null : <p className="quiet">{plural(review.withheld, 'shop')} more are too few to be shown unnamed.</p>}
      </section>
      <section className="sheet" aria-label="Funnel">
        <ShopFunnel review={review} />
      </section>
      <section className="sheet" aria-label="Shop by shop">
        <Forest
          title="Shop by shop"
          words={`Returns over what the case mix explains, within ${count(review.horizon)} degree-days, drawn towards all shops where a shop has few; false findings are controlled at 5 %.`}
          file="shops"
          label="returns over what is explained (equal steps multiply)"
          ratios
          rows={review.shops.map((shop, i) => ({
            key: shop.shopId ?? String(i),
            name: shopName(shop),
            point: shop.shrunk,
            low: shop.shrunkLow,
            high: shop.shrunkHigh,
            stands: `${count(shop.observed)} seen, ${decimal(shop.expected)} explained`,
            strong: shop.verdict === 'above' || shop.verdict === 'below',
            shape: shop.verdict === 'above' ? ('temporary' as const) : ('permanent' as const),
            further: [VERDICTS[shop.verdict], shop.ratio, shop.qValue, shop.borrowed],
            href: repairsOf(shop),
          }))}
          show={decimal}
          marks={[{ at: 1, name: 'explained' }]}
          furtherColumns={[
            { name: 'verdict' },
            { name: 'own ratio', show: decimal },
            { name: 'false findings (q)', show: (q) => (q < 0.001 ? 'under 0.001' : q.toFixed(3)) },
            { name: 'borrowed', show: percent },
          ]}
        />
      </section>
      <Fineprint cautions={review.cautions} definitions={review.definitions} />
    </>
  );
}

const LOW_RECORDS = 0.75;

function CompletenessTable({ shops, parts }: { readonly shops: readonly ShopStanding[]; readonly parts: Parts }) {
  const share = (value: number | null, judged = true) =>
    value === null ? '–' : judged && value < LOW_RECORDS ? <span className="flag">{percent(value)}</span> : percent(value);
  return (
    <div className="table-wrap">
      <table>
        <caption className="unseen">Completeness of each shop’s records</caption>
        <Heads
          of={[
            ['Shop'],
            ['Cases', 'number'],
            [
              <>
                On cars that <br /> can be followed
              </>,
              'number',
            ],
            ['Cause proved', 'number'],
            ['Repair recorded', 'number'],
            ['Intent known', 'number'],
            [
              <>
                Returns seen <br /> at other shops
              </>,
              'number',
            ],
            ['Behind it'],
          ]}
        />
        <tbody>
          {shops.map((shop, i) => (
            <tr key={shop.shopId ?? i}>
              <th scope="row">{shopName(shop)}</th>
              <td className="number">{count(shop.completeness.cases)}</td>
              <td className="number">{share(shop.completeness.linkedShare)}</td>
              <td className="number">{share(shop.completeness.provedShare)}</td>
              <td className="number">{share(shop.completeness.repairedShare)}</td>
              <td className="number">{share(shop.completeness.intentShare)}</td>
              <td className="number">{share(shop.completeness.elsewhereShare, false)}</td>
              <td>
                {shop.shopId === null ? (
                  '–'
                ) : (
                  <a href={address('/recurrences/repairs', { ...parts, shop: shop.shopId })}>
                    Repairs<span className="unseen"> of {shopName(shop)}</span>
                  </a>
                )}
              </td>
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}

function saveReview({ shops }: ShopReview): void {
  downloadCsv(
    'shops',
    [
      'shop',
      'cases',
      'linked',
      'proved',
      'repair recorded',
      'intent known',
      'seen elsewhere',
      'repairs',
      'observed',
      'expected',
      'verdict',
    ],
    shops.map((shop) => [
      shopName(shop),
      shop.completeness.cases,
      shop.completeness.linkedShare,
      shop.completeness.provedShare,
      shop.completeness.repairedShare,
      shop.completeness.intentShare,
      shop.completeness.elsewhereShare,
      shop.episodes,
      shop.observed,
      shop.expected,
      shop.verdict,
    ]),
  );
}
