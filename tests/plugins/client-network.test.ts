import { expect, test } from 'vitest'
import { networkOf } from '../../src/plugins/client-network.js'

test.each([
  ['an IPv4 address and its IPv4-mapped form (RFC 4291, 2.5.5.2)', '192.0.2.1', '::ffff:192.0.2.1'],
  ['the same in hexadecimal digits: 192.0.2.1 is c000:0201', '192.0.2.1', '::ffff:c000:201'],
  ['addresses of one /64', '2001:db8:0:1::1', '2001:db8:0:1:ffff:ffff:ffff:ffff'],
  ['spellings of one address (RFC 5952, 2)', '2001:db8:0:0:1:0:0:1', '2001:DB8::1:0:0:1'],
  ['an address with and without its zone (RFC 4007, 11)', 'fe80::1%eth0', 'fe80::1'],
])('networkOf(address) is one for %s', (_, one, other) => {
  expect(networkOf(one)).toBe(networkOf(other))
})

test.each([
  ['two IPv4 addresses', '192.0.2.1', '192.0.2.2'],
  ['addresses that differ in bit 64', '2001:db8::1', '2001:db8:0:1::1'],
  ['an IPv4 address and an IPv6 one that ends with it, not mapped', '192.0.2.1', '64:ff9b::192.0.2.1'],
])('networkOf(address) is another for %s', (_, one, other) => {
  expect(networkOf(one)).not.toBe(networkOf(other))
})

test('networkOf(address) leaves what is no address as it is: a socket that has closed has none', () => {
  expect(networkOf('')).toBe('')
})
