import type { IncomingMessage } from 'node:http'

/** A host name or address, with a port or without (RFC 3986, 3.2.2 and 3.2.3); empty where a target has none. */
const HOST = /^(?:[\w.~!$&'()*+,;=%-]*|\[[\da-f:.]+\])(?::\d*)?$/i

/** Headers of which Node keeps the first and says nothing of the others, where another reader may go by the last. */
const ONCE: ReadonlyMap<string, string> = new Map(
  ['Host', 'Authorization', 'Content-Type'].map((name) => [name.toLowerCase(), name]),
)

/** The first of these that stands twice. */
function doubled(rawHeaders: readonly string[]): string | undefined {
  const seen: string[] = []
  for (let i = 0; i < rawHeaders.length; i += 2) {
    const name = rawHeaders[i]!.toLowerCase()
    if (!ONCE.has(name)) continue
    if (seen.includes(name)) return ONCE.get(name)
    seen.push(name)
  }
  return undefined
}

/**
 * What is wrong with the head of a request that Node takes all the same, where the length or the address of the request is then
 * what another reader of it, such as a proxy, would not make of it.
 *
 * @see RFC 9112: 2.3 (versions), 3.2 (Host), 3.2.4 (*), 6.1 (Transfer-Encoding); RFC 9110, 5.3 (several of one name)
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
  const name = doubled(rawHeaders)
  return name === undefined ? undefined : `The request has more than one ${name} header.`
}
