import { describe, expect, it } from '@jest/globals';
import { COMMON_RULES } from './outcome-rules.js';
import { chargeAccuracy, refrigerantBalance } from './refrigerant.js';
import { returnCosts } from './return-costs.js';
import type { ReturnedWork, WeighedCharge } from './shop-records.queries.js';

const named = (shopId: string) => ({ shopId, shopCode: shopId, shopName: shopId });
const shown = new Map(['a', 'b'].map((id) => [id, named(id)]));
const period = { since: '2026-01-01', until: null };
const work = (parts: Partial<ReturnedWork>): ReturnedWork => ({
  shopId: 'a',
  endCaseId: 'c',
  currency: 'EUR',
  labourRate: 50,
  hours: 2,
  parts: 30,
  paid: 0,
  chargedG: 500,
  sharers: 1,
  ...parts,
});

describe('cost of returns', () => {
  it('is hours × rate + parts, at the shop of the first repair; what nobody paid is told apart (by hand)', () => {
    const { lines } = returnCosts({
      rules: COMMON_RULES,
      asked: {},
      period,
      // 2 h × 50 + 30 = 130, unpaid; 1 h × 60 = 60 of which 40 paid, shared by two earlier repairs; one of which nothing is recorded.
      work: [
        work({}),
        work({ hours: 1, parts: null, paid: 40, labourRate: 60, sharers: 2 }),
        work({ hours: null, parts: null, paid: null }),
      ],
      counts: [
        { shopId: 'a', episodes: 20, linked: 19 },
        { shopId: 'b', episodes: 4, linked: 4 },
      ],
      shown,
      withheld: 0,
      currencyOf: new Map([
        ['a', 'EUR'],
        ['b', 'EUR'],
      ]),
    });
    const a = lines.find((line) => line.shopId === 'a')!;
    expect(a).toMatchObject({ returns: 3, pricedReturns: 2, hours: 2.5, work: 160, parts: 30, paid: 20, unpaid: 140, costPerRepair: 8 });
    expect(a.high! - a.costPerRepair!).toBeCloseTo((1.959963984540054 * Math.sqrt(130 ** 2 + 30 ** 2)) / 20, 10);
    expect(lines.find((line) => line.shopId === 'b')).toMatchObject({ returns: 0, costPerRepair: null });
  });
});

const charge = (parts: Partial<WeighedCharge>): WeighedCharge => ({
  shopId: 'a',
  month: '2026-06',
  action: 'replace-condenser',
  refrigerant: 'R-134a',
  specifiedG: 500,
  recoveredG: 300,
  chargedG: 500,
  machineId: null,
  machineName: null,
  ...parts,
});

describe('charges', () => {
  it('five of six within 5 %, mean error of the weighed ones, top-ups left out (by hand)', () => {
    const { lines } = chargeAccuracy(
      period,
      [490, 500, 510, 520, 480, 560]
        .map((chargedG) => charge({ chargedG }))
        .concat(charge({ chargedG: null }), charge({ action: 'top-up', chargedG: 90 })),
      shown,
      0,
    );
    expect(lines).toHaveLength(1);
    expect(lines[0]).toMatchObject({ verdict: 'estimated', charges: 6, unweighed: 1, within: { n: 6, events: 5 } });
    expect(lines[0]!.meanError).toBeCloseTo(0.02, 12);
  });

  it('balance by month and refrigerant, with the potential of the named report or none where it gives none', () => {
    const charges = [
      charge({}),
      charge({ recoveredG: null, chargedG: null }),
      charge({ refrigerant: 'R-1234yf' }),
      charge({ month: '2026-07' }),
    ];
    const { lines } = refrigerantBalance(period, 'AR5', charges, shown, 0);
    expect(lines.map(({ month, refrigerant, repairs, netG, unweighed }) => [month, refrigerant, repairs, netG, unweighed])).toEqual([
      ['2026-07', 'R-134a', 1, 200, 0],
      ['2026-06', 'R-134a', 2, 200, 1],
      ['2026-06', 'R-1234yf', 1, 200, 0],
    ]);
    // 0.2 kg x 1300 (AR5 table 8.A.1).
    expect(lines.map(({ co2eKg }) => co2eKg)).toEqual([260, 260, null]);
  });
});
