import { describe, expect, it } from '@jest/globals';
import type { RepairIntent } from '#libs/contracts/index.js';
import type { StandingCell } from './board.js';
import { compared, type LinesQuestion, linesOf } from './board-lines.js';

const cell = (
  platformId: string,
  episodes: number,
  probability: number,
  low: number,
  intent: RepairIntent = 'temporary',
): StandingCell => ({
  platformId,
  fault: 'filter-cartridge',
  intent,
  episodes,
  linked: episodes,
  returns: Math.round(episodes * probability),
  shops: 3,
  recent: 0,
  own: probability,
  effectiveN: episodes,
  effectiveEvents: episodes * probability,
  probability,
  low,
  high: 0.9,
  borrowed: 0,
  shownFrom: 'own',
});
const CELLS = [cell('a', 30, 0.6, 0.5), cell('b', 10, 0.2, 0.1), cell('c', 30, 0.4, 0.35), cell('a', 20, 0.1, 0.05, 'permanent')];
const platforms = (ids: readonly string[]) => ids.map((id) => ({ id, code: id, name: id, family: 'knot' }));
const asked = (question: Partial<LinesQuestion>, cells = CELLS) =>
  linesOf(cells, platforms(['a', 'b', 'c', 'd', 'e']), { minimum: 1, ...question });
const names = (lines: readonly { platformId: string }[]) => lines.map(({ platformId }) => platformId);

describe('a line beside the same repair elsewhere', () => {
  it('weighs the others by their repairs and leaves itself out', () => {
    const [a, b] = compared(CELLS);
    expect(a!.elsewhere).toBeCloseTo((10 * 0.2 + 30 * 0.4) / 40, 12);
    expect(b!.elsewhere).toBeCloseTo((30 * 0.6 + 30 * 0.4) / 60, 12);
  });

  it('says nothing where fewer than two others are known', () => {
    expect(compared(CELLS)[3]!.elsewhere).toBeNull();
    expect(compared(CELLS.slice(0, 2)).map(({ elsewhere }) => elsewhere)).toEqual([null, null]);
  });

  it('is the same whichever lines are asked for', () => {
    const [alone] = asked({ platformId: 'b' }).lines;
    expect(alone!.elsewhere).toBe(asked({}).lines.find(({ platformId }) => platformId === 'b')!.elsewhere);
  });
});

describe('lines that are surely worse', () => {
  const more = [...CELLS, cell('d', 20, 0.7, 0.6), cell('e', 20, 0.7, 0.6)];

  it('are those whose whole interval lies above, furthest first', () => {
    expect(names(asked({ only: 'above-elsewhere' }).lines)).toEqual(['a']);
    expect(names(asked({ only: 'above-elsewhere' }, more).lines)).toEqual(['d', 'e']);
  });

  it('come page by page, equal ones in the order of their keys', () => {
    const first = asked({ only: 'above-elsewhere', first: 1 }, more);
    expect([names(first.lines), first.total]).toEqual([['d'], 2]);
    const second = asked({ only: 'above-elsewhere', first: 1, after: first.next! }, more);
    expect([names(second.lines), second.next]).toEqual([['e'], null]);
    expect(() => asked({ first: 1, after: first.next! }, more)).toThrow(/another filter/);
  });

  it('a line that has sunk out of the list ends no page early', () => {
    const first = asked({ first: 2 }, more);
    expect(names(first.lines)).toEqual(['d', 'e']);
    expect(names(asked({ first: 2, after: first.next! }, CELLS).lines)).toEqual(['a', 'c']);
  });
});
