import { describe, expect, it } from '@jest/globals';
import { episodeOutcome, type LinkedCase, type LinkedRepair, type LinkingRules } from './linking.js';
import { COMMON_RULES } from './outcome-rules.js';

const RULES: LinkingRules = {
  version: 1,
  own: COMMON_RULES,
  leadsTo: new Map([['compressor-wear', ['condenser-passages', 'filter-cartridge']]]),
  causedBy: new Map([['replace-compressor', ['air-in-system']]]),
};
const visit = (day: string, parts: Partial<LinkedCase> = {}): LinkedCase => ({
  caseId: `case-${day}`,
  shopId: 'shop-a',
  day,
  openedAt: Date.parse(`${day}T09:00:00Z`) * 1000,
  complaint: 'cools-poorly',
  provedFaults: [],
  repairedFaults: [],
  odometerKm: null,
  ...parts,
});
const repair = (day: string, parts: Partial<LinkedRepair> = {}): LinkedRepair => ({
  repairId: `repair-${day}`,
  caseId: `case-${day}`,
  shopId: 'shop-a',
  fault: 'compressor-wear',
  action: 'replace-compressor',
  intent: 'permanent',
  day,
  ...parts,
});
const first = visit('2025-06-01', { repairedFaults: ['compressor-wear'] });
/** What the organisation sets in place of the common rules. */
let own = COMMON_RULES;
const outcome = (
  later: LinkedCase[],
  made: LinkedRepair = repair('2025-06-01'),
  repairs: LinkedRepair[] = [],
  sightings: { day: string; odometerKm: number | null }[] = [],
) => episodeOutcome(made, first, [first, ...later], [made, ...repairs], sightings, { ...RULES, own });

describe('how an episode ends', () => {
  it('with the same fault, wherever the car comes back to', () => {
    const back = visit('2025-07-01', { shopId: 'shop-b', provedFaults: ['compressor-wear'], odometerKm: 900 });
    expect(outcome([back])).toMatchObject({
      end: 'same-fault',
      endedOn: '2025-07-01',
      endCaseId: 'case-2025-07-01',
      endShopId: 'shop-b',
    });
  });

  it('the next morning, since the same visit is the same case and not the same day', () => {
    expect(outcome([visit('2025-06-02', { provedFaults: ['compressor-wear'] })]).end).toBe('same-fault');
  });

  it('with a fault that follows from the first, or one that the repair can cause', () => {
    expect(outcome([visit('2025-07-01', { provedFaults: ['condenser-passages'] })]).end).toBe('consequent-fault');
    expect(outcome([visit('2025-07-01', { provedFaults: ['air-in-system'] })]).end).toBe('repair-caused');
  });

  it('with the same complaint when another cause is proved, but not when another complaint is', () => {
    expect(outcome([visit('2025-07-01', { provedFaults: ['air-door'] })]).end).toBe('same-complaint');
    expect(outcome([visit('2025-07-01', { provedFaults: ['air-door'], complaint: 'smell' })]).end).toBe('running');
  });

  it('with the permanent repair when it is made without a complaint; with a return when the car came back for it', () => {
    const made = repair('2025-06-01', { intent: 'temporary' });
    const later = repair('2025-08-01', { intent: 'permanent' });
    expect(outcome([visit('2025-08-01', { complaint: 'service', repairedFaults: ['compressor-wear'] })], made, [later]).end).toBe(
      'permanent-later',
    );
    expect(outcome([visit('2025-08-01', { repairedFaults: ['compressor-wear'] })], made, [later]).end).toBe('same-fault');
  });

  it('not with a visit that proved and repaired nothing: suspicion is no label', () => {
    expect(outcome([visit('2025-07-01')])).toMatchObject({ end: 'running', endedOn: '2025-07-01' });
  });

  it('not with what came before, and in whatever order the visits arrive', () => {
    const before = visit('2025-05-01', { provedFaults: ['compressor-wear'] });
    const one = visit('2025-07-01', { provedFaults: ['condenser-passages'] });
    const two = visit('2025-08-01', { provedFaults: ['compressor-wear'] });
    for (const order of [
      [before, one, two],
      [two, before, one],
      [two, one, before],
    ])
      expect(outcome(order)).toMatchObject({ end: 'consequent-fault', endedOn: '2025-07-01' });
  });

  it('goes on until the car was last seen', () => {
    expect(
      outcome(
        [],
        repair('2025-06-01'),
        [],
        [
          { day: '2026-02-03', odometerKm: 12_000 },
          { day: '2025-09-01', odometerKm: 9_000 },
        ],
      ),
    ).toMatchObject({
      end: 'running',
      endedOn: '2026-02-03',
      endCaseId: null,
      endShopId: null,
    });
  });

  it('not with another order of the same shop within the days that are one visit, but with one at another shop', () => {
    own = { ...COMMON_RULES, version: 1, sameVisitDays: 3 };
    expect(outcome([visit('2025-06-04', { provedFaults: ['compressor-wear'] })])).toMatchObject({ end: 'running', endedOn: '2025-06-04' });
    expect(outcome([visit('2025-06-05', { provedFaults: ['compressor-wear'] })]).end).toBe('same-fault');
    expect(outcome([visit('2025-06-04', { shopId: 'shop-b', provedFaults: ['compressor-wear'] })]).end).toBe('same-fault');
    own = COMMON_RULES;
  });

  it('not with what comes later than is looked back: the repair is followed to that day', () => {
    own = { ...COMMON_RULES, version: 1, lookBackDays: 90 };
    expect(outcome([visit('2025-08-30', { provedFaults: ['compressor-wear'] })]).end).toBe('same-fault');
    expect(outcome([visit('2025-08-31', { provedFaults: ['compressor-wear'] })])).toMatchObject({
      end: 'running',
      endedOn: '2025-08-30',
      isCut: true,
    });
    expect(outcome([], undefined, [], [{ day: '2025-07-01', odometerKm: null }])).toMatchObject({ endedOn: '2025-07-01', isCut: false });
    own = COMMON_RULES;
  });

  it('not with what a vehicle comes back with that was not seen for longer than it counts as around: it was lost when it was last seen', () => {
    const back = (day: string) => visit(day, { provedFaults: ['compressor-wear'] });
    expect(outcome([back('2026-06-01')])).toMatchObject({ end: 'same-fault', endedOn: '2026-06-01' });
    expect(outcome([back('2026-06-02')])).toMatchObject({ end: 'running', endedOn: '2025-06-01', isCut: false });
    // Seen on the way, it was around all the time; seen after it was lost, it does not come to life again.
    const seen = (day: string) => [{ day, odometerKm: null }];
    expect(outcome([back('2026-06-02')], undefined, [], seen('2025-12-24')).end).toBe('same-fault');
    expect(outcome([back('2026-09-01')], undefined, [], seen('2026-08-01'))).toMatchObject({ end: 'running', endedOn: '2025-06-01' });
    expect(outcome([back('2026-09-01')], undefined, [], seen('2026-05-01')).end).toBe('same-fault');
  });
});
