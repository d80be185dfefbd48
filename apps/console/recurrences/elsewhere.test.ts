import { describe, expect, it } from '@jest/globals';
import type { RecurrenceLine } from '../client/generated/api.ts';
import { compared, standingOut } from './elsewhere.ts';

const line = (platformId: string, episodes: number, probability: number, low: number, intent: RecurrenceLine['intent'] = 'temporary') =>
  ({ platformId, fault: 'filter-cartridge', intent, episodes, probability, low }) as RecurrenceLine;

describe('a line beside the same repair elsewhere', () => {
  const lines = [line('a', 30, 0.6, 0.5), line('b', 10, 0.2, 0.1), line('c', 30, 0.4, 0.35), line('a', 20, 0.1, 0.05, 'permanent')];

  it('weighs the others by their repairs and leaves itself out', () => {
    const [a, b] = compared(lines);
    expect(a!.elsewhere).toBeCloseTo((10 * 0.2 + 30 * 0.4) / 40, 12);
    expect(b!.elsewhere).toBeCloseTo((30 * 0.6 + 30 * 0.4) / 60, 12);
  });

  it('says nothing where fewer than two others are known', () => {
    expect(compared(lines)[3]!.elsewhere).toBeNull();
    expect(compared(lines.slice(0, 2)).map(({ elsewhere }) => elsewhere)).toEqual([null, null]);
  });

  it('names only lines whose whole interval lies above, furthest first', () => {
    expect(standingOut(compared(lines)).map(({ line: { platformId } }) => platformId)).toEqual(['a']);
  });
});
