import { readFileSync } from 'node:fs'
import { request as request1 } from 'node:http'
import { connect } from 'node:http2'
import { join } from 'node:path'
import { gunzipSync } from 'node:zlib'
import { beforeAll, describe, expect, test } from 'vitest'
import { build } from '../support/build.js'
import { operations, readOpenApi } from '../support/contract.js'
import { hasProxy, startProxy } from '../support/proxies.js'
import { tempFolder } from '../support/temp.js'
import { firstStart } from '../torture/support/server.js'

const example = JSON.parse(
  readFileSync(join(import.meta.dirname, '../../examples/vehicles/cable-changed-axle.json'), 'utf8'),
)
const JSON_TYPE = { 'content-type': 'application/json' }

interface Reply {
  readonly status: number
  readonly headers: NodeJS.Dict<string | string[]>
  readonly bytes: Buffer
}

interface Sent {
  readonly method?: string
  readonly headers?: Record<string, string>
  readonly body?: string
  /** Address from which the client connects. */
  readonly from?: string
}

/** One request on a connection of its own, without any header that the test does not name. */
const send = (url: string, { method = 'GET', headers = {}, body = '', from }: Sent = {}) =>
  new Promise<Reply>((resolve, reject) => {
    const outgoing = request1(url, {
      method,
      headers,
      agent: false,
      ...(from === undefined ? {} : { localAddress: from }),
    })
    outgoing.on('error', reject)
    outgoing.on('response', async (incoming) => {
      const bytes = Buffer.concat(await incoming.toArray())
      resolve({ status: incoming.statusCode!, headers: incoming.headers, bytes })
    })
    outgoing.end(body)
  })

/** Opens a request whose body goes on, and reads its answer as it arrives. */
type OpenStream = (address: string) => {
  write(text: string): void
  end(): void
  /** Resolves when the answer contains a text. */
  until(text: string): Promise<void>
  readonly whole: Promise<string>
}

const { path } = operations(readOpenApi()).find(
  ({ spec }) => 'application/x-ndjson' in (spec.requestBody?.content ?? {}),
)!
const BATCH = { ':path': path, ':method': 'POST', 'content-type': 'application/x-ndjson' }

function reader(incoming: NodeJS.ReadableStream) {
  let received = ''
  incoming.on('data', (chunk) => {
    received += chunk
  })
  return {
    async until(text: string) {
      while (!received.includes(text)) await new Promise((resolve) => incoming.once('data', resolve))
    },
    whole: new Promise<string>((resolve) => incoming.on('end', () => resolve(received))),
  }
}

const overHttp1: OpenStream = (address) => {
  const { ':path': _path, ':method': method, ...headers } = BATCH
  const outgoing = request1(`${address}${path}`, { method, headers, agent: false })
  outgoing.flushHeaders()
  const answer = new Promise<ReturnType<typeof reader>>((resolve, reject) => {
    outgoing.on('response', (incoming) => resolve(reader(incoming)))
    outgoing.on('error', reject)
  })
  return {
    write: (text) => outgoing.write(text),
    end: () => outgoing.end(),
    until: async (text) => (await answer).until(text),
    whole: answer.then(({ whole }) => whole),
  }
}

const overHttp2: OpenStream = (address) => {
  const session = connect(address)
  const stream = session.request(BATCH, { endStream: false })
  const answer = reader(stream)
  return {
    write: (text) => stream.write(text),
    end: () => stream.end(),
    until: answer.until,
    whole: answer.whole.finally(() => session.close()),
  }
}

beforeAll(build, 600_000)

describe.each([
  // nginx speaks HTTP/2 with TLS only. Caddy of Debian answers a batch meanwhile over HTTP/2 only: see deploy/Caddyfile.
  { name: 'nginx', open: overHttp1 },
  { name: 'caddy', open: overHttp2 },
] as const)('behind $name with the file of deploy', ({ name, open }) => {
  const given = test.skipIf(!hasProxy(name))

  /** The service and the proxy before it. */
  async function start(environment: Record<string, string> = {}) {
    const { server, key } = await firstStart({
      file: join(tempFolder(), 'a.sqlite'),
      environment: { TRUST_PROXY: '127.0.0.1', ...environment },
    })
    return { key, service: server.address, address: await startProxy(name, server.address) }
  }

  given(
    'If-Match and ETag pass unchanged, also for clients that accept gzip: 412 for a version that is not stored',
    async () => {
      const { key, address } = await start()
      const headers = { ...JSON_TYPE, authorization: `Bearer ${key}`, 'accept-encoding': 'gzip' }
      const made = await send(`${address}/v1/vehicles`, {
        method: 'POST',
        headers,
        body: JSON.stringify(example),
      })
      expect(made.status).toBe(201)
      const url = `${address}${made.headers.location}`
      const read = await send(url, { headers })
      expect(read.headers.etag).toBe('"1"')
      expect((await send(url, { headers: { ...headers, 'if-none-match': '"1"' } })).status).toBe(304)
      const put = (etag: string) =>
        send(url, {
          method: 'PUT',
          headers: { ...headers, 'if-match': etag },
          body: JSON.stringify({ ...example, notes: 'x' }),
        })
      expect((await put('"7"')).status).toBe(412)
      const replaced = await put(String(read.headers.etag))
      expect([replaced.status, replaced.headers.etag]).toEqual([200, '"2"'])
    },
  )

  given('the first line of a batch is answered while its second has not been sent', async () => {
    const { address } = await start()
    const batch = open(address)
    batch.write(`${JSON.stringify({ vehicle: example })}\n`)
    await batch.until('"ok":true')
    batch.write('{"name":"second"}\n')
    await batch.until('"ok":false')
    batch.end()
    expect(await batch.whole).toMatch(/"complete":true/)
  })

  given('the rate limit counts the address of the client, whatever the client claims', async () => {
    const { address } = await start({ RATE_PER_ADDRESS: '100' })
    const left = async (from: string, headers = {}) =>
      /r=(\d+)/.exec(String((await send(`${address}/v1/units`, { from, headers })).headers.ratelimit))![1]
    expect(await left('127.0.0.2')).toBe('99')
    expect(await left('127.0.0.2', { 'x-forwarded-for': '192.0.2.1' })).toBe('98')
    expect(await left('127.0.0.3')).toBe('99')
  })

  given('a body or headers beyond the limit get the answer of the service', async () => {
    const { address } = await start()
    // BODY_LIMIT_BYTES is 1 MiB; nginx itself would refuse a body of more than 1 MB with a page of its own.
    const body = JSON.stringify({ ...example, notes: 'x'.repeat(1_200_000) })
    const sendLarge = () =>
      send(`${address}/v1/vehicle-checks`, {
        method: 'POST',
        headers: { ...JSON_TYPE, 'content-length': String(body.length) },
        body,
      })
    let large = await sendLarge()
    // The service hangs up with its refusal. A proxy that is still sending at this moment may lose it, and answers 502.
    for (let again = 0; large.status === 502 && again < 10; again++) large = await sendLarge()
    expect([large.status, large.headers['content-type']]).toEqual([
      413,
      expect.stringContaining('application/problem+json'),
    ])
    // The service takes 16 KiB of headers; nginx itself would refuse more than 8 KiB in one of them.
    const long = await send(`${address}/v1/units`, { headers: { 'x-long': 'x'.repeat(20_000) } })
    expect([long.status, long.headers['content-type']]).toEqual([
      431,
      expect.stringContaining('application/problem+json'),
    ])
  })

  given(
    'a slash in a reference stays encoded, and calculations give the same bytes as without the proxy',
    async () => {
      const { key, address, service } = await start()
      const made = await send(`${address}/v1/vehicles/by-reference/SHOP%2F2031`, {
        method: 'PUT',
        headers: { ...JSON_TYPE, authorization: `Bearer ${key}` },
        body: JSON.stringify({ ...example, reference: undefined }),
      })
      expect([made.status, JSON.parse(made.bytes.toString()).reference]).toEqual([201, 'SHOP/2031'])
      const call = {
        method: 'POST',
        headers: { ...JSON_TYPE, 'accept-encoding': 'gzip' },
        body: JSON.stringify(example),
      }
      const direct = await send(`${service}/v1/vehicle-checks`, call)
      const through = await send(`${address}/v1/vehicle-checks`, call)
      // Caddy compresses only where `encode` says so.
      expect(through.headers['content-encoding']).toBe(name === 'nginx' ? 'gzip' : undefined)
      const bytes = name === 'nginx' ? gunzipSync(through.bytes) : through.bytes
      expect(bytes.equals(direct.bytes)).toBe(true)
    },
  )
})
