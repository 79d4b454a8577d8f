import { Type } from '@sinclair/typebox'
import Fastify from 'fastify'
import { describe, expect, test } from 'vitest'
import { registerLazyCompile } from '../../src/plugins/lazy-compile.js'
import { registerValidation, schemaChecks } from '../../src/plugins/validation.js'
import { testApp } from '../support/app.js'

// A start compiles none of them: what is wrong with one would be seen by the first who asks.
describe('compileSchemas()', () => {
  test('finds the schema of every part of every request sound', async () => {
    const app = await testApp()
    await app.ready()
    app.compileSchemas()
    await app.close()
  })

  const WRONG: ReadonlyArray<readonly [string, object]> = [
    ['a keyword that is not known', Type.Object({ a: Type.Number({ 'x-unknown': true }) })],
    ['a bound that is text', Type.Object({ a: Type.Number({ minimum: '5' as never }) })],
    ['a name that stands for nothing', { $ref: 'Nothing#' }],
  ]
  for (const [name, body] of WRONG) {
    test(`throws on ${name}`, async () => {
      const app = Fastify()
      registerValidation(app, schemaChecks(registerLazyCompile(app)))
      app.post('/wrong', { schema: { body } }, () => ({}))
      await app.ready()
      expect(() => app.compileSchemas()).toThrow()
      await app.close()
    })
  }
})
