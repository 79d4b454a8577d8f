import { afterAll, expect, test } from 'vitest'
import { buildApp } from '../../src/app.js'
import { readConfig } from '../../src/config.js'
import { openSqliteStore } from '../../src/db/sqlite/sqlite-store.js'
import { runProgram } from '../support/surroundings.js'

const config = readConfig({})
const store = openSqliteStore({ file: ':memory:', clock: Date.now })
afterAll(() => store.close())

const demo = () => runProgram(['demo'], store)

test('demo fills an empty store once, and each call that it prints shows something', async () => {
  const { status, printed } = await demo()
  expect(status).toBe(0)
  expect(printed).toContain('3 vehicles, 14 parts, 10 fits, 2 tire-sizes')
  expect(printed).toMatch(/^ {2}DATABASE_FILE=\S+ wheel-to-dial serve$/m)
  const calls = [
    ...printed.matchAll(/curl -s '?http:\/\/127\.0\.0\.1:8080(?<url>[^'\s]+)'?(?: -H '(?<header>[^']+)')?/g),
  ]
  expect(calls).toHaveLength(5)
  const app = await buildApp({ config, store, clock: Date.now })
  const answers = []
  for (const { groups } of calls) {
    const [name, value] = groups!.header?.split(': ') ?? []
    const headers = name === undefined ? {} : { [name]: value! }
    answers.push(await app.inject({ method: 'GET', url: groups!.url!, headers }))
  }
  const [check, fits, candidates, rings, size] = answers.map((answer) => answer.json())
  expect(check.remedies.some(({ part }: { part?: { support?: number } }) => (part?.support ?? 0) > 0.5)).toBe(
    true,
  )
  expect(
    fits.parts.flatMap((one: { fits: { agreement: string }[] }) =>
      one.fits.map(({ agreement }) => agreement),
    ),
  ).toContain('contradict')
  expect(candidates.candidates.length).toBeGreaterThan(3)
  expect(rings.parts).toHaveLength(2)
  expect(size.sources).toContain('stored-tire-size')
  await app.close()
  const again = await demo()
  expect([again.status, again.warned]).toEqual([
    1,
    expect.stringContaining('DATABASE_FILE=data/demo.sqlite wheel-to-dial demo'),
  ])
})
