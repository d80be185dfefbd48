import type { RecordQuality, RecordQualityLine, Share } from '../client/generated/api.ts';
import { useRecordQuality } from '../client/outcome-queries.ts';
import { Forest } from '../plots/forest.tsx';
import { Answered } from '../shell/answered.tsx';
import { Choice } from '../shell/choice.tsx';
import { address, goTo } from '../shell/route.ts';
import { Nothing } from '../shell/states.tsx';
import { count, decimal, percent, periodWords, plural, said } from '../shell/words.ts';
import { known, type Period, PeriodFilters, periodOf, periodParts } from './filters.tsx';
import { Fineprint } from './fineprint.tsx';
import { shopName } from './shop-name.ts';

const PATH = '/recurrences/records';
const MEASURES = [
  ['proved', 'cause proved by more than a judgement'],
  ['judged', 'nothing but a judgement'],
  ['openedPart', 'proved by an opened part'],
  ['afterReadings', 'proved by readings after the repair'],
  ['withReadings', 'any reading at all'],
  ['atRest', 'a pressure at rest'],
  ['warned', 'a value doubted when typed'],
  ['confirmed', 'the engine’s first answer proved right'],
] as const satisfies readonly (readonly [keyof RecordQualityLine, string])[];
type Measure = (typeof MEASURES)[number][0];

/** How well each shop proves and records: what the figures of returns stand on. */
export function Records({ search }: { readonly search: URLSearchParams }) {
  const period = periodOf(search);
  const query = useRecordQuality(period);
  const measure =
    known(
      search.get('measure'),
      MEASURES.map(([code]) => code),
    ) ?? 'proved';
  return (
    <div className="stack">
      <div className="stack tight">
        <h1>Evidence</h1>
        <p className="lead">{said(query.data?.message ?? 'How well each shop proves and records.')}</p>
      </div>
      <PeriodFilters path={PATH} search={search}>
        <Choice
          label="Share of cases with"
          value={measure}
          options={MEASURES}
          none={null}
          change={(value) => goTo(address(PATH, { ...Object.fromEntries(search), measure: value }))}
        />
      </PeriodFilters>
      <Answered query={query} what="the evidence">
        {(quality) => <Quality quality={quality} measure={measure} period={period} />}
      </Answered>
    </div>
  );
}

function Quality({ quality, measure, period }: { readonly quality: RecordQuality; readonly measure: Measure; readonly period: Period }) {
  if (quality.lines.length === 0) {
    return <Nothing title="No cases in this period.">Ask for a longer period, or take the fault and the platform off.</Nothing>;
  }
  const name = MEASURES.find(([code]) => code === measure)![1];
  const casesOf = ({ shopId }: RecordQualityLine) =>
    shopId === null ? undefined : address('/recurrences/cases', { ...periodParts({ ...period, since: quality.since }), shop: shopId });
  return (
    <>
      <section className="sheet" aria-label="Shop by shop">
        <Forest
          title={`Share of cases with ${name}`}
          words={`Exact 95 % limits, ${periodWords(quality.since, quality.until)}. ${
            measure === 'confirmed' ? 'Of proved cases only; agreement on the cases of a shop is not accuracy on vehicles.' : ''
          }`}
          file={`evidence-${measure}`}
          label="share of cases, %"
          within={[0, 1]}
          rows={quality.lines.map((line, i) => ({
            key: line.shopId ?? String(i),
            name: shopName(line),
            point: line[measure].share,
            low: line[measure].low,
            high: line[measure].high,
            stands: `${count(line[measure].events)} of ${count(line[measure].n)}`,
            href: casesOf(line),
          }))}
          show={percent}
        />
      </section>
      <section className="sheet" aria-label="All measures">
        <div className="table-wrap">
          <table>
            <caption>All measures side by side; the shop that surely proves least stands first.</caption>
            <thead>
              <tr>
                <th scope="col">Shop</th>
                <th scope="col" className="number">
                  Cases
                </th>
                {MEASURES.map(([code, label]) => (
                  <th key={code} scope="col" className="number narrow">
                    {label}
                  </th>
                ))}
                <th scope="col" className="number narrow">
                  readings a case
                </th>
              </tr>
            </thead>
            <tbody>
              {quality.lines.map((line, i) => (
                <tr key={line.shopId ?? i}>
                  <th scope="row">{casesOf(line) ? <a href={casesOf(line)}>{shopName(line)}</a> : shopName(line)}</th>
                  <td className="number">{count(line.cases)}</td>
                  {MEASURES.map(([code]) => (
                    <td key={code} className="number">
                      {shareShort(line[code])}
                    </td>
                  ))}
                  <td className="number">{line.readingsPerCase === null ? '–' : decimal(line.readingsPerCase)}</td>
                </tr>
              ))}
            </tbody>
          </table>
        </div>
        {quality.withheld === 0 ? null : <p className="quiet">{plural(quality.withheld, 'shop')} more are too few to be shown unnamed.</p>}
      </section>
      <Fineprint cautions={quality.cautions} definitions={quality.definitions} />
    </>
  );
}

const shareShort = ({ share }: Share) => (share === null ? '–' : percent(share));
