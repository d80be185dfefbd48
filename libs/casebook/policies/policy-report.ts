import type { Policy, PolicyReport, RepairAction } from '#libs/contracts/index.js';
import { type PeriodCount, policyEffect } from '#libs/outcomes/index.js';
import { repairsBehind } from '../outcomes/behind.js';
import { clockCautions, linkageCautions, linkedShareOf } from '../outcomes/cautions.js';
import { dayNumber, dayOf } from '../outcomes/clocks.js';
import type { RepairSpan } from '../outcomes/holding.queries.js';
import { rulesInWords } from '../outcomes/outcome-rules.js';
import { shareOf } from '../outcomes/record-quality.js';
import { definitionsOf, type FittedViewpoint, MINIMUM_EPISODES, RETURNED, sampleOf } from '../outcomes/return-rates.js';
import { type ShownShop, withheldCautions } from '../outcomes/shop-names.js';

const YEAR_DAYS = 365;
/** Longer follow-up of the older repairs must not count: both are followed as long at most. */
export const FOLLOWED_DEGREE_DAYS = 500;

export interface ReportFacts {
  readonly policy: Policy;
  readonly layout: string;
  /** Repairs of the fault on all platforms. */
  readonly spans: readonly RepairSpan[];
  /** Platforms on which the same was ruled at some time: no comparison. */
  readonly ruled: ReadonlySet<string>;
  readonly shown: ReadonlyMap<string, ShownShop>;
  readonly withheld: number;
  readonly view: FittedViewpoint;
}

export function policyReport({ policy, layout, spans, ruled, shown, withheld, view }: ReportFacts): PolicyReport {
  const since = dayNumber(policy.since);
  const end = policy.endedOn === null ? Number.POSITIVE_INFINITY : dayNumber(policy.endedOn);
  const isBefore = ({ started }: RepairSpan) => started < since && started >= since - YEAR_DAYS;
  const isAfter = ({ started }: RepairSpan) => started >= since && started < end;
  const own = spans.filter((span) => span.platformId === policy.platformId);
  const others = spans.filter((span) => span.platformId !== null && span.layout === layout && !ruled.has(span.platformId));
  const groups = [own.filter(isBefore), own.filter(isAfter), others.filter(isBefore), others.filter(isAfter)];
  const [before, after, comparisonBefore, comparisonAfter] = groups.map((group) => periodOf(group, view)) as [
    Period,
    Period,
    Period,
    Period,
  ];
  const isKnown =
    groups[0]!.length >= MINIMUM_EPISODES &&
    groups[1]!.length >= MINIMUM_EPISODES &&
    [before, after, comparisonBefore, comparisonAfter].every(({ degreeDays }) => degreeDays > 0);
  const effect = isKnown
    ? policyEffect({
        before: countOf(before),
        after: countOf(after),
        comparisonBefore: countOf(comparisonBefore),
        comparisonAfter: countOf(comparisonAfter),
      })
    : null;
  const subject = { platformId: policy.platformId, fault: policy.fault };
  const followed = followedOf(groups[1]!, policy);
  const linkedShare = linkedShareOf([...groups[0]!, ...groups[1]!]);
  const verdict = effect?.ratio == null ? ('not-enough' as const) : ('estimated' as const);
  return {
    policy,
    message: messageOf(followed, verdict, effect?.ratio ?? null, effect?.lower ?? null, effect?.upper ?? null),
    followed,
    followedBefore: followedOf(groups[0]!, policy),
    shops: [...new Set(groups[1]!.map(({ shopId }) => shopId))]
      .flatMap((shopId) => {
        const name = shown.get(shopId);
        if (!name) return [];
        return [
          {
            ...name,
            followed: followedOf(
              groups[1]!.filter((span) => span.shopId === shopId),
              policy,
            ),
          },
        ];
      })
      .sort((a, b) => (a.followed.high ?? 1) - (b.followed.high ?? 1)),
    withheld,
    verdict,
    before,
    after,
    comparisonBefore,
    comparisonAfter,
    casesBehind: repairsBehind({ ...subject, since: policy.since, until: policy.endedOn ?? undefined }),
    casesBefore: repairsBehind({ ...subject, since: dayOf(since - YEAR_DAYS), until: policy.since }),
    ratio: effect?.ratio ?? null,
    low: effect?.lower ?? null,
    high: effect?.upper ?? null,
    pValue: effect?.pValue ?? null,
    linkedShare,
    clockFit: view.fit,
    cautions: [
      ...linkageCautions(linkedShare, groups[0]!.length + groups[1]!.length),
      ...withheldCautions(withheld),
      ...clockCautions(view.fit, 'degree-days'),
      'Assumes that without the policy returns would have changed here as on the comparable platforms.',
    ],
    definitions: [
      `Followed: share of repairs of the fault on the platform since the policy that are as it says, exact 95 % limits. Before: the ${YEAR_DAYS} days before it.`,
      `Effect: returns per degree-day, each repair followed for at most ${FOLLOWED_DEGREE_DAYS}, after over before, divided by the same on platforms of the same layout without such a policy (difference in differences of log rates).`,
      ...rulesInWords(view.clocks.rules),
      definitionsOf('degree-days', view.clocks).at(-1)!,
      `Nothing is said under ${MINIMUM_EPISODES} repairs before or after, or without any return in one of the four.`,
    ],
  };
}

type Period = PolicyReport['before'];
const countOf = ({ returns, degreeDays }: Period): PeriodCount => ({ events: returns, exposure: degreeDays });

function periodOf(spans: readonly RepairSpan[], view: FittedViewpoint): Period {
  const { time, end } = sampleOf(spans, view);
  let returns = 0;
  let degreeDays = 0;
  for (let i = 0; i < spans.length; i++) {
    degreeDays += Math.min(time[i]!, FOLLOWED_DEGREE_DAYS);
    if (end[i] === RETURNED && time[i]! <= FOLLOWED_DEGREE_DAYS) returns += 1;
  }
  return { episodes: spans.length, returns, degreeDays, per1000: degreeDays > 0 ? (1000 * returns) / degreeDays : null };
}

function followedOf(spans: readonly RepairSpan[], { rule, action }: { rule: Policy['rule']; action: RepairAction }) {
  return shareOf(spans.filter((span) => (span.action === action) === (rule === 'require')).length, spans.length);
}

function messageOf(
  followed: PolicyReport['followed'],
  verdict: PolicyReport['verdict'],
  ratio: number | null,
  low: number | null,
  high: number | null,
): string {
  const kept =
    followed.share === null
      ? 'No such repair was done since the policy.'
      : `Followed in ${followed.events} of ${followed.n} repairs (${Math.round(followed.share * 100)} %).`;
  if (verdict === 'not-enough' || ratio === null || low === null || high === null) {
    return `${kept} Too little is known to say whether it changed how often repairs come back.`;
  }
  const change = `Returns per degree-day are ${ratio.toFixed(2)} times what the comparison foretells (95 % interval ${low.toFixed(2)} to ${high.toFixed(2)})`;
  return `${kept} ${change}${high < 1 ? ': fewer.' : low > 1 ? ': more.' : ': no change beyond chance is shown.'}`;
}
