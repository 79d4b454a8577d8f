import { parseHTML } from 'linkedom'
import { afterAll, describe, expect, test } from 'vitest'
import { exampleText } from '../../src/reference/json-layout.js'
import { testApp } from '../support/app.js'
import { operations, readOpenApi, type Schema } from '../support/contract.js'
import { expectProblem } from '../support/problem.js'

const app = await testApp()
afterAll(() => app.close())

const contract = readOpenApi()
const all = operations(contract)

const pageAt = async (url: string) => {
  const response = await app.inject(url)
  expect(response.statusCode, url).toBe(200)
  return parseHTML(response.body).document
}

/** Names of all fields in a schema and in the components that it refers to. */
function fieldsOf(schema: unknown, seen = new Set<string>()): Set<string> {
  const found = new Set<string>()
  const visit = (value: unknown): void => {
    if (typeof value !== 'object' || value === null) return
    const { $ref, properties, items, anyOf = [], oneOf = [] } = value as Schema & { anyOf?: []; oneOf?: [] }
    if ($ref !== undefined) {
      if (seen.has($ref)) return
      seen.add($ref)
      visit(contract.components.schemas[$ref.split('/').at(-1)!])
    }
    for (const [name, inner] of Object.entries(properties ?? {})) {
      found.add(name)
      visit(inner)
    }
    for (const inner of [items, ...anyOf, ...oneOf]) visit(inner)
  }
  visit(schema)
  return found
}

test('the index leads to every operation, under its subject, with what it does', async () => {
  const document = await pageAt('/reference')
  const links = Array.from(document.querySelectorAll('.operations a'), (link) => link.getAttribute('href'))
  expect(links.sort()).toEqual(all.map(({ spec }) => `reference/${spec.operationId}`).sort())
  const missing = all.filter(
    ({ method, path, spec }) =>
      !document.body.textContent!.includes(`${method} ${path}`) ||
      !document.body.textContent!.includes(spec.description!),
  )
  expect(missing.map(({ spec }) => spec.operationId)).toEqual([])
})

describe('the page of each operation', () => {
  test('names it, its parameters, every field of its body and answers, and every status', async () => {
    const faults: string[] = []
    for (const { method, path, spec } of all) {
      const document = await pageAt(`/reference/${spec.operationId}`)
      const text = document.body.textContent!
      if (document.querySelector('h1')!.textContent !== spec.summary)
        faults.push(`${spec.operationId}: title`)
      const expected = [
        `${method} ${path}`,
        ...(spec.parameters ?? []).map(({ name }) => name),
        ...Object.keys(spec.requestBody?.content ?? {}),
        ...Object.keys(spec.responses),
      ]
      for (const word of expected) if (!text.includes(word)) faults.push(`${spec.operationId}: ${word}`)
      // The last part of `parent.field` or `parent[].field`.
      const shown = new Set(
        Array.from(document.querySelectorAll('th code'), (code) => code.textContent!.split('.').at(-1)!),
      )
      const bodies = [spec.requestBody, ...Object.values(spec.responses)].flatMap((one) =>
        Object.values(one?.content ?? {}),
      )
      for (const { schema } of bodies)
        for (const field of fieldsOf(schema))
          if (!shown.has(field)) faults.push(`${spec.operationId}: field ${field}`)
    }
    expect(faults).toEqual([])
  })

  test('has no id twice, and no link that leads nowhere', async () => {
    const known = new Set([
      '/',
      '/openapi.json',
      '/notices',
      '/pages/page.css',
      '/pages/reference.css',
      '/pages/icon.svg',
    ])
    const ids = new Map<string, Set<string>>()
    const links: Array<readonly [from: string, to: URL]> = []
    const faults: string[] = []
    for (const url of ['/reference', ...all.map(({ spec }) => `/reference/${spec.operationId}`)]) {
      const document = await pageAt(url)
      known.add(url)
      const own = Array.from(document.querySelectorAll('[id]'), ({ id }) => id)
      ids.set(url, new Set(own))
      if (new Set(own).size !== own.length) faults.push(`${url}: an id twice`)
      for (const one of document.querySelectorAll('[href]'))
        links.push([url, new URL(one.getAttribute('href')!, `http://service${url}`)])
    }
    for (const [from, { host, pathname, hash }] of links) {
      const isThere = host === 'service' && known.has(pathname)
      const hasAnchor = hash === '' || ids.get(pathname)?.has(hash.slice(1))
      if (!isThere || !hasAnchor) faults.push(`${from}: ${pathname}${hash}`)
    }
    expect(faults).toEqual([])
  })

  test('gives a call that the service accepts, where it needs no key and no value of the caller', async () => {
    const faults: string[] = []
    let calls = 0
    for (const { method, spec } of all.filter(({ spec }) => spec.security === undefined)) {
      const document = await pageAt(`/reference/${spec.operationId}`)
      const command = document.querySelector('[aria-label="Call for a shell"] code')!.textContent!
      const [, url, , type, payload] =
        /^curl -s '([^']+)'( \\\n {2}-H 'content-type: ([^']+)' \\\n {2}-d '([\s\S]*)')?$/.exec(command) ?? []
      if (url === undefined) continue
      calls++
      const response = await app.inject({
        method,
        url: url.slice('http://127.0.0.1:8080'.length),
        ...(type === undefined ? {} : { headers: { 'content-type': type }, payload: payload! }),
      })
      if (response.statusCode !== 200) faults.push(`${spec.operationId}: ${response.body}`)
    }
    expect(faults).toEqual([])
    expect(calls).toBeGreaterThan(40)
  })
})

test('an example is laid out as JSON, but stays on one line where each line is a value, and text as it stands', () => {
  const example = { vehicle: { name: 'x'.repeat(60), notes: 'y'.repeat(60) } }
  expect(exampleText(example, 'application/json').split('\n').length).toBeGreaterThan(1)
  expect(exampleText(example, 'application/x-ndjson')).not.toContain('\n')
  for (const type of ['application/json', 'application/x-ndjson'])
    expect(JSON.parse(exampleText(example, type))).toEqual(example)
  expect(exampleText('time\n0.1\n', 'text/csv')).toBe('time\n0.1\n')
})

test('an operation that is not there is 404', async () => {
  expectProblem(await app.inject('/reference/checkVehicl'), 404, 'not-found')
})
