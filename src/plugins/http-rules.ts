import type { IncomingMessage } from 'node:http'

/** A host name or address, with or without a port (RFC 3986, 3.2.2 and 3.2.3); empty if the target has no authority. */
const HOST = /^(?:[\w.~!$&'()*+,;=%-]*|\[[\da-f:.]+\])(?::\d*)?$/i

/** Headers of which Node silently uses the first if there are several; a proxy may use the last. */
const ONCE: ReadonlyMap<string, string> = new Map(
  ['Host', 'Authorization', 'Content-Type'].map((name) => [name.toLowerCase(), name]),
)

/** Name of the first of these headers that occurs twice. */
function repeatedHeader(rawHeaders: readonly string[]): string | undefined {
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
 * Describes a fault in the head of a request that Node accepts, but that a proxy may read as another length or target (request
 * smuggling); undefined if there is none.
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
  const name = repeatedHeader(rawHeaders)
  return name === undefined ? undefined : `The request has more than one ${name} header.`
}
