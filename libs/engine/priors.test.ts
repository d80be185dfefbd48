import { describe, expect, it } from '@jest/globals';
import type { FaultCode } from './codes.js';
import type { EngineInput, EnginePrior } from './evidence.js';
import { priorOf } from './priors.js';

const asked = (prior: EnginePrior, compressor: EngineInput['platform']['compressor'] = 'fixed-clutch'): EngineInput => ({
  platform: { layout: 'valve-receiver', compressor, refrigerant: 'R-134a', chargeKg: 0.6, dualEvaporator: false },
  conditions: {},
  readings: [],
  findings: [],
  thermalMaps: [],
  traces: [],
  prior,
});
const proved = (...counts: readonly (readonly [FaultCode, number])[]) => counts.map(([code, count]) => ({ code, count }));
const start = priorOf(asked({}));
/** Share of the faults, mistakes of measurement and health left out, that one of them has. */
const MISTAKES = ['manifold-valves-open', 'port-not-opened', 'gauge-bias', 'transducer-bias', 'sample-unsettled', 'healthy'] as const;
const shareOf = (prior: ReturnType<typeof priorOf>, code: FaultCode) =>
  prior.get(code)! / (1 - MISTAKES.reduce((sum, one) => sum + (prior.get(one) ?? 0), 0));

describe('how often each fault is expected', () => {
  it('leans on what was proved on the platform: 25 proved causes weigh as much as the start values (worked by hand)', () => {
    const then = priorOf(asked({ platformProved: proved(['undercharge', 15], ['condenser-fan', 10]) }));
    expect(shareOf(then, 'undercharge')).toBeCloseTo((shareOf(start, 'undercharge') + 15 / 25) / 2, 9);
    expect(shareOf(then, 'condenser-fan')).toBeCloseTo((shareOf(start, 'condenser-fan') + 10 / 25) / 2, 9);
    expect(shareOf(then, 'air-door')).toBeCloseTo(shareOf(start, 'air-door') / 2, 9);
    for (const code of MISTAKES) expect(then.get(code)).toBeCloseTo(start.get(code)!, 9);
  });

  it('does not learn health, mistakes of measurement, or faults this hardware cannot have', () => {
    const none = { platformProved: proved(['displacement-stuck-low', 30], ['healthy', 9]) };
    expect([...priorOf(asked(none))]).toEqual([...start]);
    expect(shareOf(priorOf(asked(none, 'variable')), 'displacement-stuck-low')).toBeGreaterThan(0.5);
  });
});
