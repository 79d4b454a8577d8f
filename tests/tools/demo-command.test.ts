import { join } from 'node:path'
import { afterAll, expect, test } from 'vitest'
import { fillDemo } from '../../tools/demo-command.js'
import { testAppWithStore } from '../support/app.js'

const { app, store } = await testAppWithStore()
afterAll(() => app.close())
const root = join(import.meta.dirname, '../..')

async function demo() {
  const lines: string[] = []
  const status = await fillDemo({ store, root, address: 'http://demo', print: (line) => lines.push(line) })
  return { status, text: lines.join('\n') }
}

/** A printed curl, as a request. */
function requestOf(curl: string) {
  const headers = Object.fromEntries(
    [...curl.matchAll(/-H '([\w-]+): ([^']*)'/g)].map(([, name, value]) => [name!, value!]),
  )
  const payload = /-d '([^']*)'/.exec(curl)?.[1]
  const method = /-X (\w+)/.exec(curl)?.[1] ?? 'GET'
  return {
    method: method as 'GET' | 'PATCH',
    url: /http:\/\/demo(\S+)/.exec(curl)![1]!,
    headers,
    ...(payload === undefined ? {} : { payload }),
  }
}

test('npm run demo fills an empty store once, and each of its five calls works, in order', async () => {
  const { status, text } = await demo()
  expect(status).toBe(0)
  const curls = text.split('\n').filter((line) => line.startsWith('curl '))
  expect(curls).toHaveLength(5)
  const answers = []
  for (const curl of curls) {
    const response = await app.inject(requestOf(curl))
    expect(response.statusCode, `${curl}\n${response.body.slice(0, 300)}`).toBe(200)
    answers.push(response.json())
  }
  const [list, check, changed, history, byReference] = answers
  expect(list.vehicles).toMatchObject([{ make: 'Marlin' }])
  // The change that the demonstration makes is the one that the check proposes first.
  expect(check.remedies[0].text).toContain('22 teeth')
  expect(changed.version).toBe(2)
  expect(history.revisions.map(({ change }: { change: string }) => change)).toEqual(['replaced', 'created'])
  expect(byReference.vehicles).toHaveLength(1)

  const again = await demo()
  expect(again.status).toBe(1)
  expect(again.text).toMatch(/not empty/)
})
