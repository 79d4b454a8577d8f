import type { IncomingMessage } from 'node:http'

/** A host name or address, with a port or without (RFC 3986, 3.2.2 and 3.2.3); empty where a target has none. */
const HOST = /^(?:[\w.~!$&'()*+,;=%-]*|\[[\da-f:.]+\])(?::\d*)?$/i

/** Node keeps the first of several and says nothing of the others. */
function hosts(rawHeaders: readonly string[]): number {
  let count = 0
  for (let i = 0; i < rawHeaders.length; i += 2) {
    const name = rawHeaders[i]!
    if (name.length === 4 && name.toLowerCase() === 'host') count++
  }
  return count
}

/**
 * What is wrong with the head of a request that Node takes all the same, where the length or the address of the request is then
 * what another reader of it, such as a proxy, would not make of it.
 *
 * @see RFC 9112: 2.3 (versions), 3.2 (Host), 3.2.4 (*), 6.1 (Transfer-Encoding)
 */
export function headFault({
  method,
  url,
  httpVersion,
  headers,
  rawHeaders,
}: IncomingMessage): string | undefined {
  if (httpVersion !== '1.1' && httpVersion !== '1.0')
    return `HTTP/${httpVersion} is not spoken here; send HTTP/1.1.`
  if (url === '*' && method !== 'OPTIONS') return 'The address * is for OPTIONS alone; give a path.'
  const coding = headers['transfer-encoding']
  if (coding !== undefined && httpVersion === '1.0')
    return 'HTTP/1.0 has no Transfer-Encoding; send Content-Length.'
  if (coding !== undefined && coding.toLowerCase() !== 'chunked')
    return 'Transfer-Encoding must be chunked and nothing else, or left out.'
  const { host } = headers
  if (host === undefined) return httpVersion === '1.1' ? 'The request has no Host header.' : undefined
  if (!HOST.test(host)) return 'Host must be a name or an address, with a port or without.'
  return hosts(rawHeaders) > 1 ? 'The request has more than one Host header.' : undefined
}
