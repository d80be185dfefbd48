import { BlockList, isIP } from 'node:net';

/** Special-purpose addresses (IANA registries of IPv4 and IPv6 special-purpose addresses, RFC 6890 and its successors): nothing public lives there. */
const SPECIAL: readonly (readonly [string, number, 'ipv4' | 'ipv6'])[] = [
  ['0.0.0.0', 8, 'ipv4'],
  ['10.0.0.0', 8, 'ipv4'],
  ['100.64.0.0', 10, 'ipv4'],
  ['127.0.0.0', 8, 'ipv4'],
  ['169.254.0.0', 16, 'ipv4'],
  ['172.16.0.0', 12, 'ipv4'],
  ['192.0.0.0', 24, 'ipv4'],
  ['192.0.2.0', 24, 'ipv4'],
  ['192.88.99.0', 24, 'ipv4'],
  ['192.168.0.0', 16, 'ipv4'],
  ['198.18.0.0', 15, 'ipv4'],
  ['198.51.100.0', 24, 'ipv4'],
  ['203.0.113.0', 24, 'ipv4'],
  ['224.0.0.0', 4, 'ipv4'],
  ['240.0.0.0', 4, 'ipv4'],
  ['::', 96, 'ipv6'],
  ['::ffff:0:0', 96, 'ipv6'],
  ['64:ff9b::', 96, 'ipv6'],
  ['64:ff9b:1::', 48, 'ipv6'],
  ['100::', 64, 'ipv6'],
  ['2001::', 23, 'ipv6'],
  ['2001:db8::', 32, 'ipv6'],
  ['2002::', 16, 'ipv6'],
  ['3fff::', 20, 'ipv6'],
  ['5f00::', 16, 'ipv6'],
  ['fc00::', 7, 'ipv6'],
  ['fe80::', 10, 'ipv6'],
  ['fec0::', 10, 'ipv6'],
  ['ff00::', 8, 'ipv6'],
];
// One list a family: a list that holds the IPv4 addresses in IPv6 dress would find every plain IPv4 address in it, too.
const special = { ipv4: new BlockList(), ipv6: new BlockList() };
for (const [net, prefix, family] of SPECIAL) special[family].addSubnet(net, prefix, family);

/** Whether an IP address is one of the public internet: not this machine, not a private or link-local network, not an IPv4 address in disguise. */
export function isPublicAddress(address: string): boolean {
  const family = isIP(address.split('%')[0]!);
  if (family === 0 || address.includes('%')) return false;
  return family === 4 ? !special.ipv4.check(address, 'ipv4') : !special.ipv6.check(address, 'ipv6');
}
