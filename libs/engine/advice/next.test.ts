import { describe, expect, it } from '@jest/globals';
import type { HypothesisCode } from '../codes.js';
import type { EngineInput } from '../evidence.js';
import { rankTests } from './next.js';

const input: EngineInput = {
  platform: { layout: 'valve-integral-receiver', compressor: 'fixed-clutch', refrigerant: 'R-134a' },
  conditions: {},
  readings: [],
  findings: [],
  thermalMaps: [],
  traces: [],
};
const tied = new Map<HypothesisCode, number>([
  ['condenser-passages', 0.5],
  ['filter-cartridge', 0.5],
]);

describe('next test', () => {
  it('asks for the step across the cartridge before anything that opens the circuit', () => {
    const tests = rankTests(input, tied, new Set());
    expect(tests[0]!.code).toBe('cartridge-temperature-step');
    expect(tests.findIndex((t) => t.code === 'open-cartridge')).toBeGreaterThan(0);
  });

  it('leaves out what is answered, what the system has not, and what the shop cannot do', () => {
    expect(rankTests(input, tied, new Set(['cartridge-step'])).map((t) => t.code)).not.toContain('cartridge-temperature-step');
    const orifice = { ...input, platform: { ...input.platform, layout: 'orifice-accumulator' } as const };
    expect(rankTests(orifice, tied, new Set()).map((t) => t.code)).not.toContain('cartridge-temperature-step');
    expect(rankTests({ ...input, equipment: [] }, tied, new Set()).map((t) => t.code)).not.toContain('cartridge-temperature-step');
  });

  it('has nothing to gain when the answer is certain', () => {
    expect(rankTests(input, new Map([['undercharge', 1]]), new Set())).toEqual([]);
  });
});
