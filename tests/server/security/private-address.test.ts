import { describe, expect, it } from 'vitest';
import { isPrivateLiteral, publicLookup } from '../../../src/server/security/guarded-lookup.js';
import { isPrivateAddress } from '../../../src/server/security/private-address.js';

// IANA IPv4 and IPv6 special-purpose address registries (RFC 6890), multicast (RFC 5771, RFC 4291 section 2.7).
describe('an address', () => {
  it('of a special network is private, at both its ends', () => {
    for (const address of [
      ...['0.0.0.0', '0.255.255.255', '10.0.0.0', '10.255.255.255', '100.64.0.0', '100.127.255.255'],
      ...['127.0.0.1', '127.255.255.255', '169.254.169.254', '172.16.0.0', '172.31.255.255'],
      ...['192.0.0.1', '192.0.2.1', '192.88.99.1', '192.168.0.1', '192.168.255.255', '198.18.0.1'],
      ...['198.19.255.255', '198.51.100.7', '203.0.113.9', '224.0.0.1', '240.0.0.1', '255.255.255.255'],
      ...['::', '::1', '::ffff:127.0.0.1', '::ffff:8.8.8.8', '::127.0.0.1', '64:ff9b::7f00:1', '100::1'],
      ...[
        '2001::1',
        '2001:db8::1',
        '2002:7f00:1::',
        '3fff::1',
        'fc00::1',
        'fdff::1',
        'fe80::1',
        'fec0::1',
        'ff02::1',
      ],
    ])
      expect(isPrivateAddress(address), address).toBe(true);
  });

  it('beside those networks is public', () => {
    for (const address of [
      ...[
        '1.0.0.0',
        '8.8.8.8',
        '9.255.255.255',
        '11.0.0.0',
        '100.63.255.255',
        '100.128.0.0',
        '126.255.255.255',
      ],
      ...['128.0.0.0', '169.253.255.255', '172.15.255.255', '172.32.0.0', '192.167.255.255', '192.169.0.0'],
      ...[
        '198.17.255.255',
        '198.20.0.0',
        '223.255.255.255',
        '2001:4860:4860::8888',
        '2606:4700::1111',
        '2a00::1',
      ],
    ])
      expect(isPrivateAddress(address), address).toBe(false);
  });

  it('that is none is not taken for a public one', () => {
    for (const text of ['', 'localhost', '127.1', '2130706433', '8.8.8.8 ', '::1%lo']) {
      expect(isPrivateAddress(text), text).toBe(true);
    }
  });

  it('written out as the host of a URL is judged as the URL standard reads it', () => {
    for (const host of [
      '127.1',
      '2130706433',
      '0x7f000001',
      '017700000001',
      '[::1]',
      '[::ffff:7f00:1]',
      '127。0。0。1',
    ])
      expect(isPrivateLiteral(new URL(`https://${host}/`).hostname), host).toBe(true);
    for (const host of ['8.8.8.8', '[2001:4860:4860::8888]', 'record.example', 'localhost'])
      expect(isPrivateLiteral(new URL(`https://${host}/`).hostname), host).toBe(false);
  });
});

describe('looking up a name', () => {
  function lookedUp(name: string, all: boolean): Promise<unknown> {
    return new Promise((resolve) => {
      publicLookup(name, { all }, (error, address) => resolve(error?.message ?? address));
    });
  }

  it('fails for one that leads to this machine, however many addresses are wanted', async () => {
    for (const all of [true, false])
      expect(await lookedUp('localhost', all)).toBe('the host has an address of a private network');
  });

  it('gives a public address as it is', async () => {
    expect(await lookedUp('8.8.8.8', false)).toBe('8.8.8.8');
    expect(await lookedUp('8.8.8.8', true)).toEqual([{ address: '8.8.8.8', family: 4 }]);
  });

  it('fails for a name nobody has', async () => {
    expect(await lookedUp('nothing.invalid', true)).toMatch(/ENOTFOUND|EAI_AGAIN/);
  });
});
