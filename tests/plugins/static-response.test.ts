import fastify from 'fastify'
import { expect, test } from 'vitest'
import { staticResponse } from '../../src/plugins/static-response.js'

// Found 2026-11: each of the first requests made the response for itself: 900 at once for the contract took 2.5 s and 540 MiB.
test('a response is made once, however many ask for it at first', async () => {
  let made = 0
  const app = fastify()
  app.get(
    '/page',
    staticResponse('text/plain', async () => {
      made++
      return Buffer.from('the page')
    }),
  )
  const answers = await Promise.all(Array.from({ length: 100 }, () => app.inject('/page')))
  expect(new Set(answers.map(({ body }) => body))).toEqual(new Set(['the page']))
  expect(made).toBe(1)
  await app.close()
})

test('a response that could not be made is made anew by the next request', async () => {
  let tries = 0
  const app = fastify()
  app.get(
    '/page',
    staticResponse('text/plain', async () => {
      tries++
      if (tries === 1) throw new Error('the disk is busy')
      return Buffer.from('the page')
    }),
  )
  expect((await app.inject('/page')).statusCode).toBe(500)
  expect((await app.inject('/page')).body).toBe('the page')
  await app.close()
})
