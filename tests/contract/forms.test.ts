import { expect, test } from 'vitest'
import { wordsOf } from '../../src/schemas/texts.js'
import { operations, readOpenApi } from '../support/contract.js'

// All that is registered.
import '../../src/app.js'

const document = readOpenApi()

/** Patterns of what a request may hold. */
function patterns(): Set<string> {
  const found = new Set<string>()
  const seen = new Set<unknown>()
  const visit = (value: unknown): void => {
    if (typeof value !== 'object' || value === null || seen.has(value)) return
    seen.add(value)
    for (const [key, inner] of Object.entries(value)) {
      if (key === 'pattern' && typeof inner === 'string') found.add(inner)
      if (key === '$ref') visit(document.components.schemas[String(inner).split('/').at(-1)!])
      visit(inner)
    }
  }
  for (const { spec } of operations(document)) visit([spec.parameters, spec.requestBody])
  return found
}

test('every pattern of a request has words that say what to give', () => {
  expect(patterns().size).toBeGreaterThan(3)
  expect([...patterns()].filter((pattern) => wordsOf(pattern) === undefined)).toEqual([])
})
