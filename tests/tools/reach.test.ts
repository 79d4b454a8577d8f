import { mkdirSync, writeFileSync } from 'node:fs'
import { dirname, join } from 'node:path'
import { expect, test } from 'vitest'
import { Code } from '../../tools/reach.js'
import { tempFolder } from '../support/temp.js'

function codeOf(files: Record<string, string>): Code {
  const root = tempFolder()
  for (const [name, text] of Object.entries(files)) {
    mkdirSync(dirname(join(root, name)), { recursive: true })
    writeFileSync(join(root, name), text)
  }
  return new Code(root)
}

const route = (operationId: string, handler: string) =>
  `app.post('/v1/x', { schema: { operationId: '${operationId}' } }, ${handler})`

test('an operation reaches what it calls, itself or through others, with the problems and cautions in there', () => {
  const code = codeOf({
    'src/domain/wires.ts': `export function wire() { return fuse() }
      function fuse() { throw new DomainError('no-fuse') }
      function other() { return { code: 'unseen', level: 'caution' } }`,
    'src/border/wires.ts': `import { wire } from '../domain/wires.js'
      const NOTE = { code: 'wire-warm', level: 'caution', text: 'It is warm.' }
      const MAYBE = (hot: boolean) => ({ code: 'wire-hot', level: hot ? 'caution' : 'info', text: 'It may be.' })
      const WORD = { code: 'only-so', level: 'info', text: 'So it is.' }
      export const answer = () => [wire(), NOTE, WORD, MAYBE(true)]`,
    'src/routes/wires.ts': `import { answer } from '../border/wires.js'
      export function routes(app: App) { ${route('ask', '() => answer()')} }`,
  })
  const reach = code.ofOperation('ask')
  expect([...reach.declarations].filter((name) => name.startsWith('src/domain'))).toEqual([
    'src/domain/wires.ts#wire',
    'src/domain/wires.ts#fuse',
  ])
  expect(reach.texts).toContain('no-fuse')
  expect([...reach.cautions].sort()).toEqual(['wire-hot', 'wire-warm'])
})

test.each([
  ['a parameter', '(wire) => wire'],
  ['a part of a parameter', '({ body: { wire } }) => ({ wire })'],
  ['a variable', '(request) => { const wire = request.body; return wire }'],
  ['a variable of a loop', '(request) => { for (const wire of request.body) return wire }'],
])('%s that bears the name of a function is no use of it', (_, handler) => {
  const code = codeOf({
    'src/domain/wires.ts': 'export function wire() {}',
    'src/routes/wires.ts': `import { wire } from '../domain/wires.js'
      export function routes(app: App) { ${route('ask', handler)}; ${route('use', '() => wire()')} }`,
  })
  expect([...code.ofOperation('ask').declarations]).toEqual([])
  expect([...code.ofOperation('use').declarations]).toEqual(['src/domain/wires.ts#wire'])
})

// Until 2026-11 no route was found whose options are spread from what calculation() makes.
test('a calculation that is made before its route is found by its id', () => {
  const code = codeOf({
    'src/domain/wires.ts': 'export function wire() {}',
    'src/routes/wires.ts': `import { wire } from '../domain/wires.js'
      export function routes(app: App) {
        const made = calculation({ id: 'ask', compute: wire })
        app.post('/v1/x', { ...made, schema: { ...made.schema, ...SEARCH } })
      }`,
  })
  expect([...code.ofOperation('ask').declarations]).toEqual(['src/domain/wires.ts#wire'])
})
