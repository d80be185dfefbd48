import { BlockList, isIP } from 'node:net';
import { isPublicAddress } from './public-address.js';
import { type AllowedTargets, PUBLIC_ONLY } from './send.js';

type Family = 'ipv4' | 'ipv6';

/** Networks of one's own (RFC 1918, RFC 6598, RFC 4193). Loopback and link-local are none: the machine itself and its cloud's metadata live there. */
const OWN: readonly (readonly [string, number, Family])[] = [
  ['10.0.0.0', 8, 'ipv4'],
  ['100.64.0.0', 10, 'ipv4'],
  ['172.16.0.0', 12, 'ipv4'],
  ['192.168.0.0', 16, 'ipv4'],
  ['fc00::', 7, 'ipv6'],
];

/**
 * The public internet, and the private networks that whoever runs the service named: `10.20.0.0/16, fd12:3456::/48`. Still over TLS only.
 * @throws Error naming what is not a private network.
 */
export function targetsWith(networks: string | undefined): AllowedTargets {
  const named = (networks ?? '').split(/[\s,]+/).filter((one) => one !== '');
  if (named.length === 0) return PUBLIC_ONLY;
  const lists = { ipv4: new BlockList(), ipv6: new BlockList() };
  for (const text of named) {
    const { address, prefix, family } = ownNetwork(text);
    lists[family].addSubnet(address, prefix, family);
  }
  const isNamed = (address: string) => {
    const family = isIP(address);
    return family !== 0 && (family === 4 ? lists.ipv4.check(address, 'ipv4') : lists.ipv6.check(address, 'ipv6'));
  };
  return { address: (address) => isPublicAddress(address) || isNamed(address), plainHttp: false, privateNames: true };
}

function ownNetwork(text: string): { address: string; prefix: number; family: Family } {
  const [address = '', length = '', ...rest] = text.split('/');
  const family: Family = isIP(address) === 6 ? 'ipv6' : 'ipv4';
  const prefix = /^\d{1,3}$/.test(length) ? Number(length) : Number.NaN;
  const isWithin = OWN.some(([net, bits, kind]) => {
    if (kind !== family || isIP(address) === 0 || !(prefix >= bits) || prefix > (family === 'ipv4' ? 32 : 128)) return false;
    const list = new BlockList();
    list.addSubnet(net, bits, kind);
    return list.check(address, kind);
  });
  if (!isWithin || rest.length > 0)
    throw new Error(
      `COOLBACK_PRIVATE_NETWORKS: "${text}" is not a private network. Write networks as 10.20.0.0/16 or fd12:3456::/48, within ` +
        `${OWN.map(([net, bits]) => `${net}/${bits}`).join(', ')}.`,
    );
  return { address, prefix, family };
}
