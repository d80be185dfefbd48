import { describe, expect, it } from '@jest/globals';
import { targetsWith } from './private-networks.js';
import { PUBLIC_ONLY, refusalOf } from './send.js';

describe('private networks that were named', () => {
  const targets = targetsWith('10.20.0.0/16, fd12:3456::/32');

  it.each(['10.20.0.1', '10.20.255.255', 'fd12:3456::1', '8.8.8.8'])('let %s be told', (address) => {
    expect(targets.address(address)).toBe(true);
  });

  it.each(['10.21.0.1', '127.0.0.1', '169.254.169.254', '::1', '::ffff:10.20.0.1', 'fe80::1', 'fd13::1', 'login.internal', ''])(
    'do not open %s',
    (address) => {
      expect(targets.address(address)).toBe(false);
    },
  );

  it('let names of the inside be asked for, over TLS only; without any, nothing of it', () => {
    expect(refusalOf('https://login.internal/', targets)).toBeNull();
    expect(refusalOf('https://10.20.3.4/hook', targets)).toBeNull();
    expect(refusalOf('https://10.21.3.4/hook', targets)).toMatch(/public internet/);
    expect(refusalOf('http://10.20.3.4/hook', targets)).toMatch(/https/);
    expect(targetsWith(undefined)).toBe(PUBLIC_ONLY);
    expect(targetsWith('  ')).toBe(PUBLIC_ONLY);
    expect(refusalOf('https://login.internal/', PUBLIC_ONLY)).toMatch(/public internet/);
  });

  it.each([
    '0.0.0.0/0',
    '10.0.0.0/7',
    '127.0.0.0/8',
    '169.254.0.0/16',
    '8.8.8.0/24',
    '::/0',
    'fe80::/10',
    '10.0.0.0',
    '10.0.0.0/33',
    '10.0.0.0/8/8',
    'lan',
  ])('may not be %s, and the error says so', (network) => {
    expect(() => targetsWith(`192.168.1.0/24 ${network}`)).toThrow(/is not a private network/);
  });
});
