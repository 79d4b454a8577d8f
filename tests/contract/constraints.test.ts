import { expect, test } from 'vitest'
import { readOpenApi } from '../support/contract.js'

const document = readOpenApi()

interface Place {
  description?: string
  properties?: Record<string, Place>
}

/** Every keyword of this service, and what the description says beside it. */
function* constraintsIn(value: object, place: Place): Generator<[string, unknown, string]> {
  for (const [key, inner] of Object.entries(value)) {
    if (key.startsWith('x-') && typeof inner !== 'object') {
      const described = key === 'x-plus-minus-below' ? (value as Place).properties!.plusMinus! : place
      yield [key, inner, String(described.description)]
    }
    if (typeof inner === 'object' && inner !== null && key !== 'examples' && key !== 'example')
      yield* constraintsIn(inner, key === 'schema' && 'in' in value ? (value as Place) : inner)
  }
}

// What the keywords mean: docs/promises.md. A unit and its absence constrain nothing.
const SAID: Readonly<Record<string, (value: unknown) => RegExp>> = {
  'x-plus-minus-below': (key) => new RegExp(`[Ll]ess than ${key}\\b`),
  'x-text': (rule) => (rule === 'line' ? /One line, not blank/ : /Not blank, .*line breaks/),
  'x-rate-weight': (requests) => new RegExp(`\\b${requests} requests\\b`),
}
const NO_CONSTRAINT = ['x-unit', 'x-dimensionless']

test('a constraint that no other tool knows is stated in words beside it', () => {
  const found = [...constraintsIn({ ...document.paths, ...document.components } as object, {})]
  const keys = new Set(found.map(([key]) => key))
  expect([...keys].sort()).toEqual([...Object.keys(SAID), ...NO_CONSTRAINT].sort())
  const silent = found.filter(
    ([key, value, words]) => SAID[key] !== undefined && !SAID[key](value).test(words),
  )
  expect(silent).toEqual([])
})
