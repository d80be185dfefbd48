import { describe, expect, it } from '@jest/globals';
import { delayStudy, linkageStudy } from './outcomes-linkage.js';
import { studySize, tell } from './outcomes-size.js';

describe('what is not seen', () => {
  it('unlinked returns: the observed share is far too low, the weighted one right', () => {
    const study = linkageStudy(studySize(200), 1000, 5);
    tell('linkage', study);
    // Standard error of one weighted figure about 0.02, over 20 studies 0.005.
    expect(Math.abs(study.corrected - study.truth)).toBeLessThan(0.015);
    expect(study.observed).toBeLessThan(0.53);
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
