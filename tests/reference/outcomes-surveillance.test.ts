import { describe, expect, it } from '@jest/globals';
import * as o from '#libs/outcomes/index.js';
import { checks, worstRelative } from './outcomes-data.js';

// Exact chain: R 4.2.2, surveillance::arlCusum and spc 0.6.7 (data/outcomes/cusum.json names the literature).
describe('run length of count charts', () => {
  const { poisson } = checks<{ poisson: Record<string, number>[] }>('cusum');

  for (const want of poisson) {
    it(`Poisson mean ${want.mu0}, k ${want.k}, h ${want.h}`, () => {
      const chart = { k: want.k!, h: want.h! };
      const got = [1, 1.5, 2].map((times) => o.countRunLength({ ...chart, mean: want.mu0! * times }));
      expect(worstRelative(got, [want.arl0!, want['arl_1.5x']!, want.arl_2x!])).toBeLessThan(1e-9);
    });
  }

  it('overdispersion of size 2 cuts 238 weeks to 41', () => {
    // 20,000 simulated runs of another program (Python, gamma-mixed Poisson): 41.25 with standard error 0.28.
    const weeks = o.countRunLength({ mean: 2, size: 2, k: 2.75, h: 6 });
    expect(Math.abs(weeks - 41.25)).toBeLessThan(3 * 0.28);
  });

  it('a chart that alarms on the first event waits 1/(1 - exp(-mean)) weeks', () => {
    // k = h = 1/2: a week with one event or more reaches 1/2 or more.
    expect(o.countRunLength({ mean: 0.3, k: 0.5, h: 0.5 })).toBeCloseTo(1 / (1 - Math.exp(-0.3)), 12);
  });

  it('the seasonal grid agrees with the exact chain where every week is alike', () => {
    // In units of ln R the likelihood-ratio chart is the chart with k = m (R - 1)/ln R.
    const ratio = 2;
    const mean = Math.log(2) * 1.5;
    const exact = o.countRunLength({ mean, k: o.poissonReference(mean, ratio), h: 4 });
    const grid = o.seasonalRunLength({ means: [mean], ratio }, 4 * Math.log(2));
    expect(Math.abs(grid / exact - 1)).toBeLessThan(0.01);
  });

  it('a threshold found for a run length gives it back', () => {
    const means = Array.from({ length: 52 }, (_, w) => 1.5 + 1.4 * Math.sin((2 * Math.PI * w) / 52));
    const chart = { means, size: 3, ratio: 2 };
    const threshold = o.cusumThreshold(chart, 520);
    expect(Math.abs(o.seasonalRunLength(chart, threshold) / 520 - 1)).toBeLessThan(0.002);
    expect(o.seasonalRunLength(chart, threshold, 2)).toBeLessThan(40);
  });

  it('1,000 streams with one false alarm a quarter need about 13,000 weeks each', () => {
    expect(o.familyRunLength(1000, 4)).toBeCloseTo((1000 * 365.25) / 28, 6);
  });
});

describe('count CUSUM', () => {
  it('follows a Poisson chart worked by hand', () => {
    // W = y ln 2 - m with m = ln 2: y - 1 in units of ln 2. Counts 1, 3, 0, 4 give 0, 2, 1, 4.
    const weeks = [1, 3, 0, 4, 0].map((count) => ({ count, expected: Math.log(2) }));
    const steps = o.countCusum(weeks, { ratio: 2, size: Number.POSITIVE_INFINITY, threshold: 4 * Math.log(2) });
    const want = [0, 2, 1, 4, 0].map((v) => v * Math.log(2));
    steps.forEach((step, i) => {
      expect(step!.statistic).toBeCloseTo(want[i]!, 12);
    });
    expect(steps.map((s) => s!.alarm)).toEqual([false, false, false, true, false]);
    expect(steps[3]!.since).toBe(1);
  });

  it('tends to the Poisson score as the size grows', () => {
    expect(o.cusumScore(5, 2, 1.7, 1e9)).toBeCloseTo(o.cusumScore(5, 2, 1.7, Number.POSITIVE_INFINITY), 6);
  });

  it('leaves out a week that has hardly been reported, and discounts one that has half', () => {
    const design = { ratio: 2, size: 5, threshold: 3 };
    const [late, half] = o.countCusum(
      [
        { count: 0, expected: 4, arrived: 0.2 },
        { count: 3, expected: 4, arrived: 0.5 },
      ],
      design,
    );
    expect(late).toBeNull();
    expect(half!.statistic).toBeCloseTo(o.cusumScore(3, 2, 2, 5), 12);
  });
});

// Naus (1965), JASA 60:532; Monte Carlo beside each value in data/outcomes/scan.json.
describe('scan', () => {
  const { cases } = checks<{ cases: { k: number; N: number; w: number; p: number; monte_carlo: number }[] }>('scan');

  it('Naus probabilities', () => {
    const got = cases.map(({ k, N, w }) => o.scanProbability(k, N, w));
    expect(
      worstRelative(
        got.map((g) => g.probability),
        cases.map((c) => c.p),
      ),
    ).toBeLessThan(1e-9);
    expect(got.every((g) => g.exact)).toBe(true);
  });

  it('all N points in one window: N w^(N-1) - (N-1) w^N', () => {
    expect(o.scanProbability(6, 6, 0.3).probability).toBeCloseTo(6 * 0.3 ** 5 - 5 * 0.3 ** 6, 14);
  });

  it('finds the planted run and its likelihood ratio', () => {
    let state = 1;
    const random = () => {
      state = (state * 48271) % 2147483647;
      return state / 2147483647;
    };
    const events = [2, 1, 2, 9, 8, 1, 2, 1];
    const found = o.rangeScan(
      events,
      events.map(() => 3),
      random,
    );
    expect(found.best).toMatchObject({ first: 3, last: 4, events: 17 });
    // 26 events, 6.5 expected in two of eight equal buckets.
    expect(found.statistic).toBeCloseTo(17 * Math.log(17 / 6.5) + 9 * Math.log(9 / 19.5), 10);
    expect(found.pValue).toBeLessThan(0.01);
    expect(o.rangeScan([0, 0], [1, 1], random)).toMatchObject({ best: null, pValue: 1 });
  });
});
