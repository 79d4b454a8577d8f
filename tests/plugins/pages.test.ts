import { readdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { gunzipSync } from 'node:zlib'
import { parseHTML } from 'linkedom'
import { afterAll, describe, expect, test } from 'vitest'
import { testApp } from '../support/app.js'
import { readOpenApi } from '../support/contract.js'
import { expectProblem } from '../support/problem.js'

const app = await testApp()
afterAll(() => app.close())

const folder = join(import.meta.dirname, '../../pages')
const files = readdirSync(folder).filter((name) => name !== 'tsconfig.json')
const assets = files.filter((name) => !name.endsWith('.html'))

const ADDRESSES: ReadonlyArray<readonly [url: string, mediaType: string]> = [
  ['/', 'text/html; charset=utf-8'],
  ['/embed', 'text/html; charset=utf-8'],
  ['/reference', 'text/html; charset=utf-8'],
  ['/reference/checkVehicle', 'text/html; charset=utf-8'],
  ['/pages/reference.css', 'text/css; charset=utf-8'],
  ['/pages/page.css', 'text/css; charset=utf-8'],
  ['/pages/page.js', 'text/javascript; charset=utf-8'],
  ['/pages/icon.svg', 'image/svg+xml'],
]

describe.each(ADDRESSES)('GET %s', (url, mediaType) => {
  test(`is ${mediaType}, with its length, under a policy that admits nothing from elsewhere and nothing inline`, async () => {
    const response = await app.inject(url)
    expect(response.statusCode).toBe(200)
    expect(response.headers['content-type']).toBe(mediaType)
    expect(Number(response.headers['content-length'])).toBe(response.rawPayload.length)
    expect(response.headers['x-content-type-options']).toBe('nosniff')
    const policy = String(response.headers['content-security-policy'])
    expect(policy).toContain("default-src 'none'")
    expect(policy).toContain("script-src 'self';")
    expect(policy).toContain("style-src 'self';")
    expect(policy).not.toMatch(/unsafe|https?:|\*/)
  })

  test('is not sent again to whoever has it, and is to whoever has another', async () => {
    const { headers } = await app.inject(url)
    const ask = (tag: string) => app.inject({ url, headers: { 'if-none-match': tag } })
    expect(headers['cache-control']).toBe('no-cache')
    for (const tag of [`${headers.etag}`, `W/${headers.etag}`, `"other", ${headers.etag}`, '*']) {
      const again = await ask(tag)
      expect(again.statusCode, tag).toBe(304)
      expect(again.headers.etag).toBe(headers.etag)
      expect(again.body).toBe('')
    }
    for (const tag of ['"other"', 'W/"other"']) expect((await ask(tag)).statusCode, tag).toBe(200)
    expectProblem(await ask('other'), 400, 'invalid-request')
  })

  test('is compressed for whoever takes that, under a tag of its own, and is the same', async () => {
    const plain = await app.inject(url)
    expect(plain.headers.vary).toBe('accept-encoding')
    expect(plain.headers['content-encoding']).toBeUndefined()
    for (const accepted of ['gzip', 'br, gzip;q=0.5', 'deflate, GZIP']) {
      const zipped = await app.inject({ url, headers: { 'accept-encoding': accepted } })
      expect(zipped.headers['content-encoding'], accepted).toBe('gzip')
      expect(zipped.headers['content-type']).toBe(mediaType)
      expect(zipped.headers.vary).toBe('accept-encoding')
      expect(gunzipSync(zipped.rawPayload).equals(plain.rawPayload)).toBe(true)
      expect(zipped.headers.etag).not.toBe(plain.headers.etag)
      const again = await app.inject({
        url,
        headers: { 'accept-encoding': accepted, 'if-none-match': String(zipped.headers.etag) },
      })
      expect([again.statusCode, again.headers['content-encoding'], again.body]).toEqual([304, undefined, ''])
    }
    // `equals`, since comparing a megabyte by `toEqual` takes minutes on a busy machine.
    for (const accepted of ['', 'identity', 'br', 'gzip;q=0', 'gzip; q=0.0', 'x-gzipped']) {
      const { rawPayload } = await app.inject({ url, headers: { 'accept-encoding': accepted } })
      expect(rawPayload.equals(plain.rawPayload), accepted).toBe(true)
    }
  })

  test('has no other methods, and HEAD is GET without the body', async () => {
    for (const method of ['POST', 'PUT', 'DELETE'] as const) {
      const response = await app.inject({ method, url })
      expectProblem(response, 405, 'method-not-allowed')
      expect(response.headers.allow).toBe('GET, HEAD, OPTIONS')
    }
    const [get, head] = [await app.inject(url), await app.inject({ method: 'HEAD', url })]
    expect(head.headers['content-length']).toBe(get.headers['content-length'])
    expect(head.body).toBe('')
  })
})

test('answers for programs carry no policy for pages', async () => {
  for (const url of ['/v1/units', '/openapi.json', '/nothing'])
    expect((await app.inject(url)).headers['content-security-policy']).toBeUndefined()
})

test('every file of the pages is at /pages, and nothing else of the folder or above it', async () => {
  for (const name of assets) expect((await app.inject(`/pages/${name}`)).statusCode, name).toBe(200)
  for (const name of [
    'index.html',
    'embed.html',
    'tsconfig.json',
    '',
    '..%2fpackage.json',
    '%2e%2e/package.json',
  ])
    expectProblem(await app.inject(`/pages/${name}`), 404, 'not-found')
})

test('the pages ask for nothing outside and hold nothing inline', async () => {
  for (const name of files) {
    const text = readFileSync(join(folder, name), 'utf8')
    // The address of the SVG language, which nobody asks for, and the one of the example.
    const addresses = [...text.matchAll(/https?:\/\/[^\s'"<)]+/g)].map(([address]) => address)
    const known = ['http://www.w3.org/2000/svg', 'http://127.0.0.1:8080/v1/vehicle-checks']
    expect(
      addresses.filter((address) => !known.includes(address)),
      name,
    ).toEqual([])
    if (name.endsWith('.html')) expect(text).not.toMatch(/<style|<script(?![^>]* src=)|\sstyle=|\son\w+=/)
  }
})

describe('the form offers all that the contract does', () => {
  const { document } = parseHTML(readFileSync(join(folder, 'index.html'), 'utf8'))
  const offered = (id: string) =>
    Array.from(document.querySelectorAll(`#${id} option`), (option) => ({
      value: option.getAttribute('value'),
      text: option.textContent,
    }))
  const { schemas } = readOpenApi().components

  test('every rule that has something to judge by, by its title', async () => {
    const { rules } = (await app.inject('/v1/gauges/rules')).json() as {
      rules: Array<Record<string, string>>
    }
    const LIMITS = ['lower', 'upper', 'points', 'fullScalePercent', 'odometerPercent']
    const titles = rules
      .filter((rule) => LIMITS.some((limit) => limit in rule))
      .map(({ id, title }) => ({ value: id!, text: title! }))
    expect(titles.length).toBeGreaterThan(10)
    const byValue = (a: { value: string | null }, b: { value: string | null }) =>
      String(a.value).localeCompare(String(b.value))
    expect(offered('rule').sort(byValue)).toEqual(titles.sort(byValue))
  })

  test('every way to know a tire', () => {
    const ways = (schemas.Tire!.anyOf as Array<{ required: string[] }>).map(({ required }) => required[0])
    expect(
      offered('tireBy')
        .map(({ value }) => value)
        .sort(),
    ).toEqual(ways.sort())
  })

  test('what drives a head, its units, and the axles', () => {
    const inSchema = (name: string, key: string) => schemas[name]!.properties![key]!.enum
    expect(offered('input').map(({ value }) => value)).toEqual(inSchema('Head', 'input'))
    const units = Array.from(document.querySelectorAll('[name=speedUnit]'), (radio) =>
      radio.getAttribute('value'),
    )
    expect(units).toEqual(inSchema('Head', 'unit'))
    expect(
      offered('axle')
        .map(({ value }) => value)
        .sort(),
    ).toEqual(inSchema('VehiclePath', 'axle'))
  })
})
