import type { CaseFilter, PeriodQuestion, RecordQuality, Share } from '#libs/contracts/index.js';
import { exactBinomial } from '#libs/outcomes/index.js';
import { casesBehind } from './behind.js';
import { type ShownShop, withheldCautions } from './shop-names.js';
import type { Period, RecordCounts } from './shop-records.queries.js';

/** A share with exact (Clopper–Pearson) limits; no share of nothing. */
export function shareOf(events: number, n: number): Share {
  if (n === 0) return { n, events, share: null, low: null, high: null };
  const [low, high] = exactBinomial(events, n);
  return { n, events, share: events / n, low, high };
}

export function recordQuality(
  period: Period,
  asked: Pick<PeriodQuestion, 'fault' | 'platformId'>,
  counts: readonly RecordCounts[],
  shown: ReadonlyMap<string, ShownShop>,
  withheld: number,
): RecordQuality {
  const behind: CaseFilter = {
    state: 'counting',
    platformId: asked.platformId,
    proved: asked.fault,
    since: `${period.since}T00:00:00Z`,
    until: period.until === null ? undefined : `${period.until}T00:00:00Z`,
  };
  const lines = counts
    .flatMap((one) => {
      const name = shown.get(one.shopId);
      if (!name) return [];
      const of = (events: number) => shareOf(events, one.cases);
      return [
        {
          ...name,
          cases: one.cases,
          proved: of(one.proved),
          judged: of(one.judged),
          openedPart: of(one.openedPart),
          afterReadings: of(one.afterReadings),
          withReadings: of(one.withReadings),
          readingsPerCase: one.cases === 0 ? null : one.readings / one.cases,
          atRest: of(one.atRest),
          warned: of(one.warned),
          confirmed: shareOf(one.confirmed, one.called),
          casesBehind: name.shopId === null ? null : casesBehind({ ...behind, shopId: name.shopId }),
        },
      ];
    })
    .sort((a, b) => (a.proved.high ?? 1) - (b.proved.high ?? 1));
  const cases = counts.reduce((sum, one) => sum + one.cases, 0);
  const proved = counts.reduce((sum, one) => sum + one.proved, 0);
  return {
    since: period.since,
    until: period.until,
    lines,
    withheld,
    message:
      cases === 0
        ? 'No case of this period is known.'
        : `${proved} of ${cases} cases have a proved cause (${Math.round((100 * proved) / cases)} %). Only these teach what comes back.`,
    cautions: [
      ...withheldCautions(withheld),
      'Which cases are proved is the choice of the shop: the confirmed share is that of proved cases, not of all.',
    ],
    definitions: [
      'Shares with exact 95 % limits, ordered by the upper end of the proved share: the shop that surely proves least stands first.',
      'A judgement is recorded but never a label. A pressure at rest shows whether gauges and transducer agree.',
    ],
  };
}
