import { describe, expect, it } from '@jest/globals';
import fc from 'fast-check';
import { hashKeySecret, issueKeySecret, organisationOfKey } from './key-format.js';

const ORG = '01980000-0000-7000-8000-0123456789ab';

describe('keys', () => {
  it('carry their organisation and match the published pattern for scanners', () => {
    const key = issueKeySecret(ORG);
    expect(organisationOfKey(key)).toBe(ORG);
    expect(key).toMatch(/^cbk_[0-9a-f]{32}_[0-9a-hjkmnp-tv-z]{39}$/);
    expect(issueKeySecret(ORG)).not.toBe(key);
    expect(hashKeySecret(key)).toHaveLength(32);
  });

  it('are told from damaged ones without a look-up', () => {
    const key = issueKeySecret(ORG);
    fc.assert(
      fc.property(fc.integer({ min: 0, max: key.length - 1 }), fc.constantFrom('0', '7', 'a', 'x', '_', 'U'), (at, character) => {
        const typed = key.slice(0, at) + character + key.slice(at + 1);
        if (typed !== key) expect(organisationOfKey(typed)).toBeNull();
      }),
    );
    expect(organisationOfKey('')).toBeNull();
  });
});
