import fc from 'fast-check';

// Without `--experimental-vm-modules` jest would run everything as CommonJS, and tests of module boundaries would pass without meaning.
if (typeof require !== 'undefined' || !import.meta.url.startsWith('file:')) {
  throw new Error('run jest with NODE_OPTIONS=--experimental-vm-modules: the tests must run as native ES modules');
}

// Property tests draw the same cases in every run; COOLBACK_SEED draws others. A failure prints the seed and path that reproduce it.
fc.configureGlobal({ seed: Number(process.env['COOLBACK_SEED'] ?? 20_261_125) });
