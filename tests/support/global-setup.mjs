import vm from 'node:vm';
import { makeRunFolder, removeAbandonedRuns } from './run-folder.mjs';

export default async function globalSetup() {
  // Without the flag jest runs everything as CommonJS, and tests of module behaviour pass for the wrong reason.
  if (!('SourceTextModule' in vm)) throw new Error('run the tests with NODE_OPTIONS=--experimental-vm-modules (npm test does)');
  await removeAbandonedRuns();
  process.env['COOLBACK_TEST_RUN'] = makeRunFolder();
}
