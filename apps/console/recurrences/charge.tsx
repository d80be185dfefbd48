import type { ChargeAccuracy, ChargeLine } from '../client/generated/api.ts';
import { useChargeAccuracy } from '../client/outcome-queries.ts';
import { Forest } from '../plots/forest.tsx';
import { Answered } from '../shell/answered.tsx';
import { address } from '../shell/route.ts';
import { Nothing } from '../shell/states.tsx';
import { count, percent, plural, said, signedPercent } from '../shell/words.ts';
import { type Period, PeriodFilters, periodOf, periodParts } from './filters.tsx';
import { Fineprint } from './fineprint.tsx';
import { shopName } from './shop-name.ts';

const PATH = '/recurrences/charge';

/** How near the specified charge each shop fills, machine by machine: a mean off zero points to a machine or its scale, a wide spread to the way of working. */
export function Charge({ search }: { readonly search: URLSearchParams }) {
  const period = periodOf(search);
  const query = useChargeAccuracy(period);
  return (
    <div className="stack">
      <div className="stack tight">
        <h1>Charge</h1>
        <p className="lead">{said(query.data?.message ?? 'How near the specified charge each shop fills.')}</p>
      </div>
      <PeriodFilters path={PATH} search={search} />
      <Answered query={query} what="the charges">
        {(accuracy) => <Accuracy accuracy={accuracy} period={period} />}
      </Answered>
    </div>
  );
}

function Accuracy({ accuracy, period }: { readonly accuracy: ChargeAccuracy; readonly period: Period }) {
  const { lines, tolerance } = accuracy;
  if (lines.every(({ charges }) => charges === 0)) {
    return (
      <Nothing title="No charge was weighed in this period.">
        Record the charged weight with the repair: without it nothing can be said about the filling machines.
      </Nothing>
    );
  }
  const repairsOf = ({ shopId }: ChargeLine) =>
    shopId === null ? undefined : address('/recurrences/repairs', { ...periodParts({ ...period, since: accuracy.since }), shop: shopId });
  return (
    <>
      <div className="beside even">
        <section className="sheet" aria-label="Mean error">
          <Forest
            narrow
            title="Off the specified charge, on average"
            words="Mean of charged less specified, as a share of the specified charge, with its 95 % interval."
            file="charge-error"
            label="error of the charge, % of specified"
            rows={lines.map((line, i) => ({
              key: `${line.shopId ?? i} ${line.machineId}`,
              name: machineName(line),
              point: line.meanError,
              low: line.low,
              high: line.high,
              stands: plural(line.charges, 'charge'),
              further: [line.spread, line.unweighed, said(line.message)],
              href: repairsOf(line),
            }))}
            show={signedPercent}
            within={symmetric(lines, tolerance)}
            marks={[
              { at: 0, name: 'as specified' },
              { at: -tolerance, name: signedPercent(-tolerance) },
              { at: tolerance, name: signedPercent(tolerance) },
            ]}
            furtherColumns={[{ name: 'spread (SD)', show: percent }, { name: 'not weighed' }, { name: 'in words' }]}
          />
        </section>
        <section className="sheet" aria-label="Within the tolerance">
          <Forest
            narrow
            title={`Charges within ${percent(tolerance)} of the specified`}
            words="Share of weighed charges, exact 95 % limits. Charges nobody weighed are counted, not guessed."
            file="charge-within"
            label="share of weighed charges, %"
            within={[0, 1]}
            rows={lines.map((line, i) => ({
              key: `${line.shopId ?? i} ${line.machineId}`,
              name: machineName(line),
              point: line.within.share,
              low: line.within.low,
              high: line.within.high,
              stands: `${count(line.within.events)} of ${count(line.within.n)}`,
              href: repairsOf(line),
            }))}
            show={percent}
          />
        </section>
      </div>
      <Fineprint cautions={accuracy.cautions} definitions={accuracy.definitions} />
    </>
  );
}

/** A line is one machine of a shop, or what the shop filled without naming one. */
const machineName = (line: ChargeLine) => (line.machineName === null ? shopName(line) : `${shopName(line)}: ${line.machineName}`);

/** Zero in the middle, so that too much and too little are seen at the same size. */
function symmetric(lines: readonly ChargeLine[], tolerance: number): [number, number] {
  const most = Math.max(tolerance * 1.4, ...lines.flatMap(({ low, high }) => [Math.abs(low ?? 0), Math.abs(high ?? 0)]));
  return [-most, most];
}
