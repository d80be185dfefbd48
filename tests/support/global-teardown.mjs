import { removeRunFolder } from './run-folder.mjs';

export default async function globalTeardown() {
  const folder = process.env['COOLBACK_TEST_RUN'];
  if (folder) await removeRunFolder(folder);
}
