import { BlockList, isIPv4, isIPv6 } from 'node:net';

/**
 * Networks that are not the public internet, of the IANA special-purpose address registries (RFC 6890 and its updates),
 * with multicast. An address in one of them may be a machine behind our own walls.
 */
const V4: readonly (readonly [string, number])[] = [
  ['0.0.0.0', 8],
  ['10.0.0.0', 8],
  ['100.64.0.0', 10],
  ['127.0.0.0', 8],
  ['169.254.0.0', 16],
  ['172.16.0.0', 12],
  ['192.0.0.0', 24],
  ['192.0.2.0', 24],
  ['192.88.99.0', 24],
  ['192.168.0.0', 16],
  ['198.18.0.0', 15],
  ['198.51.100.0', 24],
  ['203.0.113.0', 24],
  ['224.0.0.0', 3],
];

/** Only 2000::/3 is handed out; forms that carry an IPv4 address in them are refused whole. */
const V6: readonly (readonly [string, number])[] = [
  ['::', 3],
  ['2001::', 23],
  ['2001:db8::', 32],
  ['2002::', 16],
  ['3fff::', 20],
  ['4000::', 2],
  ['8000::', 1],
];

const v4 = blockList(V4, 'ipv4');
// A list of its own: one for both would take every IPv4 address for its form within IPv6, which is refused.
const v6 = blockList(V6, 'ipv6');

function blockList(networks: typeof V4, family: 'ipv4' | 'ipv6'): BlockList {
  const list = new BlockList();
  for (const [network, prefix] of networks) list.addSubnet(network, prefix, family);
  return list;
}

/** Whether an IP address is none of the public internet; a text that is no IP address is treated as private too. */
export function isPrivateAddress(address: string): boolean {
  if (isIPv4(address)) return v4.check(address, 'ipv4');
  return !isIPv6(address) || v6.check(address, 'ipv6');
}
