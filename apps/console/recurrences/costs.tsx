import type { ReturnCostLine, ReturnCosts } from '../client/generated/api.ts';
import { useReturnCosts } from '../client/outcome-queries.ts';
import { Forest } from '../plots/forest.tsx';
import { Answered } from '../shell/answered.tsx';
import { downloadCsv } from '../shell/csv.ts';
import { address } from '../shell/route.ts';
import { Nothing } from '../shell/states.tsx';
import { count, decimal, periodWords, plural, said } from '../shell/words.ts';
import { type Period, PeriodFilters, periodOf, periodParts } from './filters.tsx';
import { Fineprint } from './fineprint.tsx';
import { shopName } from './shop-name.ts';

const PATH = '/recurrences/costs';

/** What returns cost, charged to the shop whose repair came back. */
export function Costs({ search }: { readonly search: URLSearchParams }) {
  const period = periodOf(search);
  const query = useReturnCosts(period);
  return (
    <div className="stack">
      <div className="stack tight">
        <h1>Costs of returns</h1>
        <p className="lead">{said(query.data?.message ?? 'What returns cost, at the shop whose repair came back.')}</p>
      </div>
      <PeriodFilters path={PATH} search={search} />
      <Answered query={query} what="the costs">
        {(costs) => <CostsOf costs={costs} period={period} />}
      </Answered>
    </div>
  );
}

function CostsOf({ costs, period }: { readonly costs: ReturnCosts; readonly period: Period }) {
  if (costs.lines.length === 0) {
    return (
      <Nothing title="No return in this period.">
        Ask for a longer period. Hours, parts and prices recorded with a repair make the sums; without them a return is counted, not priced.
      </Nothing>
    );
  }
  const repairsOf = ({ shopId }: ReturnCostLine) =>
    shopId === null ? undefined : address('/recurrences/repairs', { ...periodParts({ ...period, since: costs.since }), shop: shopId });
  // Money of different currencies is never added up or drawn on one scale.
  const currencies = [...new Set(costs.lines.map(({ currency }) => currency))];
  return (
    <>
      {currencies.map((currency) => {
        const lines = costs.lines.filter((line) => line.currency === currency);
        return (
          <section key={currency} className="sheet stack" aria-label={`Costs in ${currency}`}>
            <Forest
              title={`Work done again, for each repair that went out (${currency})`}
              words={`Hours at the labour rate of the shop that did them, and parts, over all repairs of the shop whose work came back; 95 % interval. Repairs ${periodWords(costs.since, costs.until)}.`}
              file={`return-costs-${currency}`}
              label={`${currency} a repair`}
              rows={lines.map((line, i) => ({
                key: line.shopId ?? String(i),
                name: shopName(line),
                point: line.costPerRepair,
                low: line.low,
                high: line.high,
                stands: `${plural(line.returns, 'return')} of ${plural(line.episodes, 'repair')}`,
                href: repairsOf(line),
              }))}
              show={decimal}
            />
            <SumsTable lines={lines} currency={currency} repairsOf={repairsOf} />
          </section>
        );
      })}
      {costs.withheld === 0 ? null : <p className="quiet">{plural(costs.withheld, 'line')} more are too few to be shown unnamed.</p>}
      <Fineprint cautions={costs.cautions} definitions={costs.definitions} />
    </>
  );
}

interface SumsProps {
  readonly lines: readonly ReturnCostLine[];
  readonly currency: string;
  readonly repairsOf: (line: ReturnCostLine) => string | undefined;
}

function SumsTable({ lines, currency, repairsOf }: SumsProps) {
  const kilograms = (grams: number) => decimal(grams / 1000);
  return (
    <div className="stack">
      <div className="row spread">
        <h2>Sums</h2>
        <button
          type="button"
          className="no-print"
          onClick={() =>
            downloadCsv(
              `return-sums-${currency}`,
              ['shop', 'repairs', 'returns', 'priced', 'hours', 'work', 'parts', 'refrigerant, g', 'paid by owners', 'unpaid'],
              lines.map((line) => [
                shopName(line),
                line.episodes,
                line.returns,
                line.pricedReturns,
                line.hours,
                line.work,
                line.parts,
                line.refrigerantG,
                line.paid,
                line.unpaid,
              ]),
            )
          }
        >
          CSV of the sums
        </button>
      </div>
      <div className="table-wrap">
        <table>
          <caption>In {currency}; money of different currencies is never added up.</caption>
          <thead>
            <tr>
              <th scope="col">Shop whose work came back</th>
              {['Returns', 'Of these priced', 'Hours', 'Work and parts', 'Parts', 'Refrigerant, kg', 'Paid by owners', 'Nobody paid'].map(
                (head) => (
                  <th key={head} scope="col" className="number">
                    {head}
                  </th>
                ),
              )}
            </tr>
          </thead>
          <tbody>
            {lines.map((line, i) => (
              <tr key={line.shopId ?? i}>
                <th scope="row">{repairsOf(line) ? <a href={repairsOf(line)}>{shopName(line)}</a> : shopName(line)}</th>
                <td className="number">{count(line.returns)}</td>
                <td className="number">{count(line.pricedReturns)}</td>
                <td className="number">{decimal(line.hours)}</td>
                <td className="number">{count(line.work)}</td>
                <td className="number">{count(line.parts)}</td>
                <td className="number">{kilograms(line.refrigerantG)}</td>
                <td className="number">{count(line.paid)}</td>
                <td className="number">{count(line.unpaid)}</td>
              </tr>
            ))}
          </tbody>
        </table>
      </div>
    </div>
  );
}
