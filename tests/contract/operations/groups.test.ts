import { readdirSync } from 'node:fs'
import { expect, test } from 'vitest'
import { operations, readOpenApi } from '../../support/contract.js'
import { GROUPS } from '../../support/operation-groups.js'

test('every operation of the document is in one group, and every group in its file', () => {
  const grouped: string[] = Object.values(GROUPS).flat()
  const all = operations(readOpenApi()).flatMap(({ spec }) => spec.tags ?? [])
  expect(all).toHaveLength(operations(readOpenApi()).length)
  expect(grouped.toSorted()).toEqual([...new Set(all)].toSorted())
  const files = readdirSync(import.meta.dirname).filter((file) => file !== 'groups.test.ts')
  expect(files.toSorted()).toEqual(
    Object.keys(GROUPS)
      .map((group) => `${group}.test.ts`)
      .toSorted(),
  )
})
