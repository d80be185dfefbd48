import { statSync } from 'node:fs';

/**
 * Files that take a minute or more of a processor, the longest first. On a machine that has never run the tests the runner knows only how large a file is, and
 * the longest one, a short text, would begin last and keep one processor busy while the other has nothing to do.
 */
const LONG = [
  'tests/validate/outcomes-regions.test.ts',
  'tests/browser/bay.test.ts',
  'tests/acceptance/watches.test.ts',
  'tests/browser/director.test.ts',
  'tests/browser/console.test.ts',
  'tests/reference/engine-checks.test.ts',
  'tests/acceptance/board.test.ts',
  'tests/acceptance/command-line.test.ts',
  'tests/acceptance/patterns.test.ts',
  'tests/validate/derived-rows.test.ts',
];

/** The order in which the runner takes the files: these, then the rest by size. */
export default class LongestFirst {
  sort(tests) {
    const place = ({ path }) => {
      const at = LONG.findIndex((name) => path.endsWith(name));
      return at < 0 ? LONG.length : at;
    };
    const ranked = tests.map((test) => ({ test, place: place(test), size: statSync(test.path).size }));
    return ranked.sort((a, b) => a.place - b.place || b.size - a.size).map(({ test }) => test);
  }

  allFailedTests(tests) {
    return tests;
  }

  cacheResults() {}
}
