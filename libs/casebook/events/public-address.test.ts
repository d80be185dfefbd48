import { describe, expect, it } from '@jest/globals';
import { isPublicAddress } from './public-address.js';

describe('an address of the public internet', () => {
  it.each(['8.8.8.8', '1.1.1.1', '193.0.6.139', '2606:4700:4700::1111', '2a00:1450:4001:81b::200e'])('is %s', (address) => {
    expect(isPublicAddress(address)).toBe(true);
  });

  it.each([
    '127.0.0.1',
    '127.255.255.254',
    '0.0.0.0',
    '10.1.2.3',
    '172.31.0.1',
    '192.168.1.1',
    '169.254.169.254',
    '100.100.100.100',
    '198.19.0.1',
    '224.0.0.1',
    '255.255.255.255',
    '::1',
    '::',
    '::ffff:127.0.0.1',
    '::ffff:8.8.8.8',
    '::127.0.0.1',
    '64:ff9b::7f00:1',
    '2002:7f00:1::',
    'fe80::1',
    'fe80::1%eth0',
    'fd00:ec2::254',
    'ff02::1',
    '2001:db8::1',
    'localhost',
    '2130706433',
    '0x7f.1',
    '',
  ])('is not %s', (address) => {
    expect(isPublicAddress(address)).toBe(false);
  });
});
