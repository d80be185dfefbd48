import { describe, expect, it } from '@jest/globals';
import fc from 'fast-check';
import type { Entry } from '#libs/contracts/index.js';
import type { HandledDay } from './ledger.queries.js';
import { type LedgerFacts, refrigerantLedger } from './refrigerant-ledger.js';

const entry = (parts: Partial<Entry>): Entry => ({
  id: 'e',
  version: 1,
  shopId: 'a',
  kind: 'stock-take',
  refrigerant: 'R-134a',
  massG: 0,
  day: '2026-01-01',
  document: null,
  note: null,
  cylinderId: null,
  machineId: null,
  toShopId: null,
  createdAt: '2026-01-01T00:00:00Z',
  ...parts,
});
const handled = (day: string, recoveredG: number, chargedG: number, weighings = 2): HandledDay => ({
  shopId: 'a',
  day,
  refrigerant: 'R-134a',
  recoveredG,
  chargedG,
  weighings,
});
const shown = new Map(['a', 'b'].map((shopId) => [shopId, { shopId, shopCode: shopId, shopName: shopId }]));
const ledger = (parts: Partial<LedgerFacts>) =>
  refrigerantLedger({
    since: '2025-01-01',
    until: null,
    today: '2026-12-31',
    assessment: 'AR4',
    isAsked: () => true,
    entries: [],
    handled: [],
    machines: [],
    cylinders: [],
    shown,
    withheld: 0,
    ...parts,
  });

describe('refrigerant ledger', () => {
  it('by hand: 20 kg counted, 12 kg bought, 3 kg recovered, 9 kg charged, 1 kg sent out, 24.4 kg counted: 0.6 kg are missing', () => {
    const { lines, message } = ledger({
      entries: [
        entry({ massG: 20_000, day: '2026-05-31' }),
        entry({ kind: 'purchase', massG: 12_000, day: '2026-06-02' }),
        entry({ kind: 'shipment', massG: 1_000, day: '2026-06-20' }),
        entry({ massG: 24_400, day: '2026-06-30' }),
      ],
      handled: [handled('2026-06-10', 3_000, 9_000, 22)],
    });
    // Weighings: first count 1, repairs 22, shipment 1, last count 1; 15 g each where no machine says otherwise.
    const errorG = 15 * Math.sqrt(25);
    expect(lines[0]).toMatchObject({
      month: '2026-06',
      openingG: 20_000,
      boughtG: 12_000,
      recoveredG: 3_000,
      chargedG: 9_000,
      sentOutG: 1_000,
      unaccountedG: 600,
      closingG: 24_400,
      weighings: 25,
      errorG,
      worstErrorG: 375,
      verdict: 'loss',
    });
    // IPCC AR4: 1,430 kg CO2 a kg of R-134a.
    expect(lines[0]!.co2eKg).toBeCloseTo(0.6 * 1430, 9);
    expect(lines[1]).toMatchObject({ month: '2026-05', openingG: null, unaccountedG: null, closingG: 20_000, verdict: 'no-stock-take' });
    expect(message).toContain('0.60 kg');
  });

  it('what one shop sends to another arrives there, and a better scale sees a smaller loss', () => {
    const entries = [
      entry({ massG: 10_000, day: '2026-03-01' }),
      entry({ kind: 'shipment', massG: 4_000, day: '2026-03-05', toShopId: 'b' }),
      entry({ massG: 5_960, day: '2026-03-31' }),
    ];
    const machine = { id: 'm', version: 1, shopId: 'a', name: 'm', refrigerant: 'R-134a', checkedOn: null, retiredOn: null } as const;
    const withScale = (scaleErrorG: number) =>
      ledger({ entries, machines: [{ ...machine, scaleErrorG, createdAt: '2025-01-01T00:00:00Z' }] }).lines;
    expect(withScale(30).find(({ shopId }) => shopId === 'a')).toMatchObject({ unaccountedG: 40, verdict: 'balanced' });
    expect(withScale(5).find(({ shopId }) => shopId === 'a')).toMatchObject({ unaccountedG: 40, verdict: 'loss' });
    expect(withScale(5).find(({ shopId }) => shopId === 'b')).toMatchObject({ boughtG: 4_000, openingG: null });
  });

  it('a count that leaves out a cylinder says so', () => {
    const cylinder = { version: 1, shopId: 'a', refrigerant: 'R-134a', content: 'new', capacityG: 12_000, retiredOn: null } as const;
    const cylinders = ['c1', 'c2'].map((id) => ({ ...cylinder, id, label: id, createdAt: '2026-01-01T00:00:00Z' }));
    const line = ledger({ cylinders, entries: [entry({ massG: 9_000, day: '2026-02-28', cylinderId: 'c1' })] }).lines[0];
    expect(line).toMatchObject({ missingContainers: 1, takenG: 9_000 });
  });

  it('adds up in every month that opens with a known stock, and from month to month', () => {
    const day = fc.integer({ min: 0, max: 299 }).map((d) => new Date(Date.UTC(2026, 0, 1 + d)).toISOString().slice(0, 10));
    const mass = fc.integer({ min: 0, max: 20_000 });
    const kinds = fc.constantFrom('purchase', 'shipment', 'stock-take');
    fc.assert(
      fc.property(
        fc.array(fc.record({ kind: kinds, massG: mass, day }), { maxLength: 40 }),
        fc.array(fc.tuple(day, mass, mass), { maxLength: 40 }),
        (entries, repairs) => {
          const { lines } = ledger({
            entries: entries.map((one) => entry(one as Partial<Entry>)),
            handled: repairs.map(([on, recovered, charged]) => handled(on, recovered, charged)),
          });
          const months = lines.toReversed();
          for (const [i, line] of months.entries()) {
            expect(line.openingG).toBe(i === 0 ? null : months[i - 1]!.closingG);
            if (line.openingG === null) continue;
            const flows = line.boughtG + line.recoveredG - line.chargedG - line.sentOutG;
            expect(line.openingG + flows - (line.unaccountedG ?? 0)).toBe(line.closingG);
          }
        },
      ),
    );
  });
});
