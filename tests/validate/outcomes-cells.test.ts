import { describe, expect, it } from '@jest/globals';
import { gapStudy, nullStudy, powerStudy } from './outcomes-patterns.js';
import { FULL, tell } from './outcomes-size.js';
import { cellStudy, rateStudy, treeStudy } from './outcomes-small-cells.js';

/** Three binomial standard errors at 0.95; cells of one data set share its fit, so each counts as a quarter of an independent one. */
const slack = (n: number) => 3 * Math.sqrt((0.95 * 0.05 * 4) / n);

describe('small cells: nominal 95 % intervals', () => {
  it('cover 92-97 % of the truth with the fit uncertain, less with the fit taken for true', () => {
    const n = FULL ? 400 : 20;
    const studies = cellStudy(n, 20240102);
    tell('small cells', studies);
    for (const [i, { carried, plugIn }] of studies.entries()) {
      const cells = [8 * n, 10 * n, 40 * n][i]!;
      expect(carried.covered).toBeGreaterThan(0.92 - slack(cells));
      expect(carried.covered).toBeLessThan(0.97 + slack(cells));
      // With 200 cells the fit is as good as known, and little is left to carry.
      if (i < 2) expect(carried.width).toBeGreaterThan(plugIn.width);
    }
    expect(studies[0]!.plugIn.covered).toBeLessThan(0.9);
  });

  it('four levels: platform, family, fault, repair', () => {
    const n = FULL ? 20 : 1;
    const study = treeStudy(n, 5);
    tell('tree', study);
    expect(study.covered).toBeGreaterThan(0.92 - slack(144 * n));
    expect(study.covered).toBeLessThan(0.97 + slack(144 * n));
  });

  it('Poisson rates', () => {
    const n = FULL ? 200 : 12;
    const study = rateStudy(n, 6);
    tell('rates', study);
    expect(study.covered).toBeGreaterThan(0.92 - slack(12 * n));
    expect(study.covered).toBeLessThan(0.97 + slack(12 * n));
  });
});

describe('recurring patterns', () => {
  it('regions without any pattern seldom show one: at most 16 of 200', () => {
    const n = FULL ? 200 : 6;
    const study = nullStudy(n, 7, FULL ? { vehicles: 1500, faults: 8 } : { vehicles: 800, faults: 6 });
    tell('no pattern', study);
    // 16 of 200 is the 97.6 % point of the binomial at 0.05; the same point at other sizes.
    expect(study.withDiscovery).toBeLessThanOrEqual(n * 0.05 + 2 * Math.sqrt(n * 0.05 * 0.95));
    expect(study.withReplication).toBeLessThanOrEqual(study.withDiscovery);
  });

  it('a planted ratio of 4 is found in at least 9 of 10 regions, its reverse is not', () => {
    const n = FULL ? 40 : 2;
    const study = powerStudy(n, 8, { vehicles: 4000, faults: 8, planted: 4 });
    tell('planted', study);
    expect(study.found / n).toBeGreaterThan(0.9 - (n < 30 ? 0.2 : 0));
    expect(study.reversed / n).toBeLessThan(0.2);
    expect(study.medianRatio).toBeGreaterThan(2.5);
    expect(study.medianRatio).toBeLessThan(6);
  });

  it('vehicles that are seen rarely do not make a planted ratio look smaller, nor one of 1 other than it is', () => {
    const study = gapStudy(FULL ? 60_000 : 6_000, 4, 1);
    tell('gaps', study);
    // Standard error of the logarithm: both pairs have some hundred exposed events in 6,000 vehicles, the unrelated one a third of the other's.
    const slack = 4 * Math.sqrt(4 / study.exposedEvents);
    expect(Math.abs(Math.log(study.planted / 4))).toBeLessThan(slack);
    expect(Math.abs(Math.log(study.unrelated))).toBeLessThan(slack);
  });
});
