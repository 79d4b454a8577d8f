import { isIPv6 } from 'node:net'
import ipaddr from 'ipaddr.js'

/**
 * The network that stands for one client: an IPv4 address, also where it is written as an IPv6 one (RFC 4291, 2.5.5.2); of any other
 * IPv6 address the first 64 bits, the least that a site is given (RFC 6177).
 */
export function networkOf(address: string): string {
  if (!isIPv6(address)) return address
  const parsed = ipaddr.process(address)
  return parsed instanceof ipaddr.IPv6 ? parsed.parts.slice(0, 4).join(':') : parsed.toString()
}
