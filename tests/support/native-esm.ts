// Without `--experimental-vm-modules` jest would run everything as CommonJS, and tests of module boundaries would pass without meaning.
if (typeof require !== 'undefined' || !import.meta.url.startsWith('file:')) {
  throw new Error('run jest with NODE_OPTIONS=--experimental-vm-modules: the tests must run as native ES modules');
}
