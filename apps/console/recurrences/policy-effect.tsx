import type { PolicyPeriod, PolicyReport } from '../client/generated/api.ts';
import { usePolicyReport } from '../client/outcome-queries.ts';
import { Forest } from '../plots/forest.tsx';
import { Answered } from '../shell/answered.tsx';
import { Heads } from '../shell/heads.tsx';
import { address } from '../shell/route.ts';
import { count, decimal, inSentence, percent, plural, said } from '../shell/words.ts';
import { behindAddress } from './behind.tsx';
import { Fineprint } from './fineprint.tsx';
import { shopName } from './shop-name.ts';

/** Whether a policy is followed, shop by shop, and what became of returns against comparable platforms without it. */
export function PolicyEffect({ id, platformName }: { readonly id: string; readonly platformName: (id: string) => string }) {
  return (
    <Answered query={usePolicyReport(id)} what="this policy">
      {(report) => <Effect report={report} platformName={platformName} />}
    </Answered>
  );
}

function Effect({ report, platformName }: { readonly report: PolicyReport; readonly platformName: (id: string) => string }) {
  const { policy, followed, followedBefore, shops, verdict } = report;
  const share = (n: number, events: number) => `${count(events)} of ${count(n)}`;
  const repairs = (shop: string) =>
    address('/recurrences/repairs', { platform: policy.platformId, fault: policy.fault, shop, since: policy.since });
  return (
    <section className="stack" aria-label="Whether the policy works">
      <div className="sheet stack">
        <h2>
          {policy.rule === 'forbid' ? 'Not' : 'Only'}: {inSentence(policy.action)}; {platformName(policy.platformId)},{' '}
          {inSentence(policy.fault)}
        </h2>
        <p>{said(report.message)}</p>
        <p>
          <a href={behindAddress(report.casesBehind)}>The repairs since then</a>
        </p>
      </div>
      <div className="beside even">
        <div className="sheet">
          <Forest
            narrow
            title="Is it followed?"
            words="Repairs of the fault on the platform that are as the policy says; exact 95 % limits."
            file="policy-followed"
            label="share of repairs as the policy says, %"
            within={[0, 1]}
            rows={[
              {
                key: 'before',
                name: 'the year before it',
                point: followedBefore.share,
                low: followedBefore.low,
                high: followedBefore.high,
                stands: share(followedBefore.n, followedBefore.events),
                shape: 'unknown',
              },
              {
                key: 'since',
                name: 'since it is in force',
                point: followed.share,
                low: followed.low,
                high: followed.high,
                stands: share(followed.n, followed.events),
                strong: true,
                href: behindAddress(report.casesBehind),
              },
              ...shops.map((shop, i) => ({
                key: shop.shopId ?? String(i),
                name: shopName(shop),
                point: shop.followed.share,
                low: shop.followed.low,
                high: shop.followed.high,
                stands: share(shop.followed.n, shop.followed.events),
                ...(shop.shopId === null ? {} : { href: repairs(shop.shopId) }),
              })),
            ]}
            show={percent}
          />
          {report.withheld === 0 ? null : <p className="quiet">{plural(report.withheld, 'shop')} more are too few to be shown unnamed.</p>}
        </div>
        <div className="sheet stack">
          {verdict === 'not-enough' ? (
            <>
              <h2>Did it work?</h2>
              <p>
                Not enough yet to tell. Wait for degree-days: repairs since the policy must live through heat before they can come back.
              </p>
            </>
          ) : (
            <Forest
              narrow
              title="Did it work?"
              words="Change of returns per degree-day since the policy, over the same change on platforms of the same layout without it. Below 1: fewer returns. Other things may have changed at the same time."
              file="policy-effect"
              label="change against comparable platforms (equal steps multiply)"
              ratios
              rows={[
                {
                  key: 'effect',
                  name: 'returns per degree-day',
                  point: report.ratio,
                  low: report.low,
                  high: report.high,
                  stands: report.pValue === null ? '' : `p ${report.pValue < 0.001 ? 'under 0.001' : report.pValue.toFixed(3)}`,
                  strong: true,
                },
              ]}
              show={decimal}
              marks={[{ at: 1, name: 'no change' }]}
            />
          )}
          <Periods report={report} />
        </div>
      </div>
      <Fineprint cautions={report.cautions} definitions={report.definitions} />
    </section>
  );
}

function Periods({ report }: { readonly report: PolicyReport }) {
  const rows: readonly (readonly [string, PolicyPeriod])[] = [
    ['Here, before', report.before],
    ['Here, since', report.after],
    ['Comparable, before', report.comparisonBefore],
    ['Comparable, since', report.comparisonAfter],
  ];
  return (
    <div className="table-wrap">
      <table>
        <caption>What the comparison stands on; last, returns per 1,000 degree-days</caption>
        <Heads
          of={[['Where and when'], ['Repairs', 'number'], ['Returns', 'number'], ['Degree-days', 'number'], ['Per 1,000', 'number']]}
        />
        <tbody>
          {rows.map(([name, period]) => (
            <tr key={name}>
              <th scope="row">{name}</th>
              <td className="number">{count(period.episodes)}</td>
              <td className="number">{count(period.returns)}</td>
              <td className="number">{count(period.degreeDays)}</td>
              <td className="number">{period.per1000 === null ? '–' : decimal(period.per1000)}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}
