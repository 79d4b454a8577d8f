import { afterAll, describe, expect, test } from 'vitest'
import { testApp } from '../support/app.js'
import { operations, readOpenApi } from '../support/contract.js'
import { expectProblem } from '../support/problem.js'

const app = await testApp()
afterAll(() => app.close())

const METHODS = ['GET', 'HEAD', 'POST', 'PUT', 'PATCH', 'DELETE', 'TRACE'] as const

/** Methods of every address of the document, and of the document itself. */
const known = new Map<string, Set<string>>([['/openapi.json', new Set(['GET', 'HEAD'])]])
for (const { method, path } of operations(readOpenApi())) {
  const methods = known.get(path) ?? new Set()
  methods.add(method)
  if (method === 'GET') methods.add('HEAD')
  known.set(path, methods)
}

for (const [path, methods] of known) {
  const url = path.replaceAll(/\{\w+\}/g, 'internal')
  const allowed = [...methods, 'OPTIONS'].sort()
  const listed = (header: unknown) => String(header).split(', ').sort()

  describe(path, () => {
    for (const method of METHODS.filter((one) => !methods.has(one))) {
      test(`${method} is a 405 that names ${allowed.join(', ')}`, async () => {
        // A body that would be a 415 or a 400 of its own must not hide the 405.
        const response = await app.inject({
          method: method as 'GET',
          url,
          ...(method === 'HEAD' || method === 'GET' || method === 'TRACE'
            ? {}
            : { headers: { 'content-type': 'text/plain' }, payload: '{' }),
        })
        expect(response.statusCode).toBe(405)
        expect(listed(response.headers.allow)).toEqual(allowed)
        if (method === 'HEAD') expect(response.body).toBe('')
        else expectProblem(response, 405, 'method-not-allowed')
      })
    }

    test('OPTIONS names the methods', async () => {
      const response = await app.inject({ method: 'OPTIONS', url })
      expect(response.statusCode).toBe(204)
      expect(listed(response.headers.allow)).toEqual(allowed)
      expect(response.body).toBe('')
    })

    if (methods.has('GET')) {
      test('HEAD answers as GET does, without the body', async () => {
        const query = path === '/v1/tires' ? '?size=165R15' : ''
        const get = await app.inject({ method: 'GET', url: url + query })
        const head = await app.inject({ method: 'HEAD', url: url + query })
        expect(head.statusCode).toBe(get.statusCode)
        expect(head.headers['content-type']).toBe(get.headers['content-type'])
        expect(head.headers['content-length']).toBe(get.headers['content-length'])
        expect(head.body).toBe('')
      })
    }

    test('a slash at the end or other letters make another address, which is not there', async () => {
      expectProblem(await app.inject(`${url}/`), 404, 'not-found')
      expectProblem(await app.inject(url.toUpperCase()), 404, 'not-found')
    })
  })
}

test('OPTIONS of an unknown path is a 404', async () => {
  expectProblem(await app.inject({ method: 'OPTIONS', url: '/v1/nothing' }), 404, 'not-found')
})

test('HEAD of an unknown path is a 404 without a body', async () => {
  const response = await app.inject({ method: 'HEAD', url: '/v1/nothing' })
  expect(response.statusCode).toBe(404)
  expect(response.body).toBe('')
})
