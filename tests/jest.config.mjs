import { readFileSync } from 'node:fs';

const { $schema: _schema, ...swc } = JSON.parse(readFileSync(new URL('../.swcrc', import.meta.url), 'utf8'));
// ESM-only leaf packages that CommonJS packages `require()`. Node >= 20.19 does that natively, jest only on Node >= 24.9.
const ESM_LEAVES = [
  'content-disposition',
  'cookie',
  'file-type',
  'strtok3',
  'token-types',
  'uint8array-extras',
  'peek-readable',
  '@tokenizer/inflate',
  '@borewit/text-codec',
];
const leaf = `/node_modules/(?:${ESM_LEAVES.join('|')})/`;

/** @type {import('jest').Config} */
export default {
  rootDir: '..',
  testEnvironment: 'node',
  roots: ['<rootDir>/apps', '<rootDir>/libs', '<rootDir>/tests'],
  testMatch: ['**/*.test.ts'],
  testPathIgnorePatterns: ['/node_modules/', '/tests/bench/', '/tests/crash/', '/tests/fuzz/'],
  globalSetup: '<rootDir>/tests/support/global-setup.mjs',
  globalTeardown: '<rootDir>/tests/support/global-teardown.mjs',
  setupFiles: ['<rootDir>/tests/support/native-esm.ts'],
  extensionsToTreatAsEsm: ['.ts'],
  transform: {
    '^.+\\.ts$': ['@swc/jest', { ...swc, swcrc: false, sourceMaps: 'inline' }],
    [`${leaf}.+\\.js$`]: ['@swc/jest', { swcrc: false, jsc: { target: 'es2022' }, module: { type: 'commonjs' } }],
  },
  transformIgnorePatterns: [`/node_modules/(?!(?:${ESM_LEAVES.join('|')})/)(?!.*/node_modules/(?:${ESM_LEAVES.join('|')})/)`],
  moduleNameMapper: {
    '^#libs/(.*)\\.js$': '<rootDir>/libs/$1.ts',
    '^#apps/(.*)\\.js$': '<rootDir>/apps/$1.ts',
    '^(\\.{1,2}/.*)\\.js$': '$1',
  },
  modulePathIgnorePatterns: ['<rootDir>/dist'],
  // Generous, for a machine that is busy with other things: what hangs still ends, and nothing is judged by the clock.
  testTimeout: 180_000,
  // Most files wait for a server, a browser or a database; jest would leave one of two cores idle.
  maxWorkers: 2,
  testSequencer: '<rootDir>/tests/support/longest-first.mjs',
};
