// Runs before each test file. A file that was turned into CommonJS has `require` and `module`; a native module has neither.
if (typeof module !== 'undefined' || typeof require !== 'undefined') {
  throw new Error('this test file runs as CommonJS: jest must run native ES modules (NODE_OPTIONS=--experimental-vm-modules)');
}

export {};
