import { describe, expect, it } from '@jest/globals';
import { distanceStudy } from './outcomes-distance.js';
import { delayStudy, linkageStudy, presenceStudy } from './outcomes-linkage.js';
import { studySize, tell } from './outcomes-size.js';

describe('what is not seen', () => {
  it('unlinked returns: the observed share is far too low, the weighted one right', () => {
    const study = linkageStudy(studySize(200), 1000, 5);
    tell('linkage', study);
    // Standard error of one weighted figure about 0.02, over 20 studies 0.005.
    expect(Math.abs(study.corrected - study.truth)).toBeLessThan(0.015);
    expect(study.observed).toBeLessThan(0.53);
  });

  it('vehicles not seen for longer than they count as around: by the rule their returns and their absence weigh alike', () => {
    const repairs = studySize(40_000);
    const stay = presenceStudy(repairs, 0, 7);
    const leave = presenceStudy(repairs, 0.06, 8);
    tell('presence', { stay, leave });
    // Of 4,000 repairs at most a quarter is followed for two years: a standard error of at most 0.02.
    const worst = (study: typeof stay) => Math.max(...study.byRule.map((p, i) => Math.abs(p - study.truth[i]!)));
    expect(worst(stay)).toBeLessThan(4 * Math.sqrt(0.25 / (repairs / 4)));
    // Who left unseen is taken to be around for a year: the figure is a little low, and never too high by more than chance.
    expect(worst(leave)).toBeLessThan(0.03 + 4 * Math.sqrt(0.25 / (repairs / 4)));
    // Counting every return, among vehicles that are otherwise given up after a year, makes the second year look worse than it is.
    expect(stay.anyReturn.at(-1)! - stay.truth.at(-1)!).toBeGreaterThan(0.02);
  });

  it('distance: what still runs is carried on as long as it is followed; to its last reading alone it looks far worse than it is', () => {
    const repairs = studySize(40_000);
    const studies = [1, 0.5, 0.2].map((read) => distanceStudy(repairs, read, 3));
    tell('distance', studies);
    for (const { truth, carriedOn, toLastReading, unread } of studies) {
      const worst = Math.max(...carriedOn.map((p, i) => Math.abs(p - truth[i]!)));
      expect(worst).toBeLessThan(0.03 + 4 * Math.sqrt(0.25 / ((repairs - unread) / 2)));
      expect(toLastReading[2]! - truth[2]!).toBeGreaterThan(0.3);
    }
    // Each odometer is read at every second visit: half of the repairs have no reading by their day.
    expect(studies[1]!.unread / repairs).toBeCloseTo(0.5, 1);
  });

  it('reporting delay: the plain share is too quick, the estimate right', () => {
    const events = studySize(40_000);
    const { truth, estimated, plain } = delayStudy(events, 6);
    tell('delay', { truth, estimated, plain });
    const worst = Math.max(...truth.map((g, x) => Math.abs(estimated[x]! - g)));
    expect(worst).toBeLessThan(4 * Math.sqrt(0.25 / (events / 2)));
    expect(plain[1]! - truth[1]!).toBeGreaterThan(0.03);
  });
});
