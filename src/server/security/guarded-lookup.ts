import { lookup } from 'node:dns';
import type { LookupFunction } from 'node:net';
import { isIP } from 'node:net';
import { isPrivateAddress } from './private-address.js';

/** The name leads to a private network: nothing was connected to. */
export class PrivateAddressError extends Error {
  constructor() {
    super('the host has an address of a private network');
  }
}

/**
 * Looks a name up and refuses it when any of its addresses is private. The connection is made to the address found
 * here, so a name that is answered differently the next time changes nothing.
 */
export const publicLookup: LookupFunction = (hostname, options, callback) => {
  lookup(hostname, { ...options, all: true }, (error, addresses) => {
    if (error) {
      callback(error, '');
      return;
    }
    const [first] = addresses;
    if (!first || addresses.some(({ address }) => isPrivateAddress(address)))
      callback(new PrivateAddressError(), '');
    else if (options.all) callback(null, addresses);
    else callback(null, first.address, first.family);
  });
};

/** A host that is an address itself is never looked up: it is judged as it stands. */
export function isPrivateLiteral(hostname: string): boolean {
  const address = hostname.replace(/^\[|\]$/g, '');
  return isIP(address) !== 0 && isPrivateAddress(address);
}
