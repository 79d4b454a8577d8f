import { join } from 'node:path'
import { describe, expect, test } from 'vitest'
import { documentedFunctions, sourceFiles } from '../../tools/docstrings.js'
import { EXAMPLE_VEHICLE } from '../support/example-vehicle.js'

const root = join(import.meta.dirname, '../..')
const functions = documentedFunctions(join(root, 'src/domain'), root).filter(
  ({ file }) => !file.endsWith('errors.ts'),
)

interface Expected {
  readonly expression: string
  readonly expected: string
}

function split(example: string): Expected {
  const [expression, expected] = example.split(/\s\/\/\s(?!.*\s\/\/\s)/)
  if (expression === undefined || expected === undefined) throw new Error(`no "// result" in: ${example}`)
  return { expression, expected }
}

async function run({ expression, expected }: Expected, file: string) {
  const scope: Record<string, unknown> = { EXAMPLE_VEHICLE }
  // Names of the whole domain are in scope, those of the function's own file last so that they win.
  for (const module of [...sourceFiles(join(root, 'src/domain')), join(root, file)])
    Object.assign(scope, await import(module))
  const evaluate = () =>
    new Function(...Object.keys(scope), `return (${expression})`)(...Object.values(scope))
  const failure = /^throws ([\w-]+)$/.exec(expected)
  if (failure !== null) {
    expect(evaluate).toThrow(expect.objectContaining({ code: failure[1] }))
    return
  }
  const value: unknown = evaluate()
  const figure = /^(-?[\d.]+(?:e[+-]?\d+)?) ± ([\d.]+(?:e[+-]?\d+)?)$/.exec(expected)
  if (figure === null) {
    expect(value).toEqual(JSON.parse(expected))
    return
  }
  expect(value).toBeTypeOf('number')
  expect(Math.abs((value as number) - Number(figure[1]))).toBeLessThanOrEqual(Number(figure[2]))
}

describe('every exported function of the domain', () => {
  test('there are some', () => expect(functions.length).toBeGreaterThan(10))

  for (const one of functions) {
    describe(`${one.name} (${one.file})`, () => {
      test('says what it computes and names a source', () => {
        expect(one.text.length).toBeGreaterThan(20)
        expect(one.sees.join('')).not.toBe('')
      })
      test('describes every parameter', () => expect(one.documentedParams).toEqual(one.params))
      test('has an example', () => expect(one.examples.length).toBeGreaterThan(0))
      for (const example of one.examples) test(example, () => run(split(example), one.file))
    })
  }
})
