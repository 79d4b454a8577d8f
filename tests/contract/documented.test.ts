import { afterAll, expect, test } from 'vitest'
import { VERSION } from '../../src/version.js'
import { clientOf, testApp } from '../support/app.js'
import { expectDocumented } from '../support/documented.js'

const app = await testApp()
afterAll(() => app.close())

const good = await clientOf(app, undefined)('GET', '/v1/units')
const withHeaders = (headers: Record<string, string>) => ({
  ...good,
  headers: { ...good.headers, ...headers },
})
const { 'x-request-id': _, ...unnumbered } = good.headers

test('an answer as it is documented is taken', () => {
  expectDocumented('listUnits', good)
  expectDocumented('listUnits', { ...good, headers: unnumbered })
})

test.each([
  ['a status that is not documented', { ...good, status: 202 }],
  ['a header that is not documented', withHeaders({ 'x-new': '1' })],
  ['a header that its schema refuses', withHeaders({ 'x-request-id': 'x'.repeat(201) })],
  ['an address that is none of ours', withHeaders({ location: '/elsewhere' })],
  ['another media type', withHeaders({ 'content-type': 'text/html' })],
  ['another body', { ...good, text: '{"dimensions":[{}]}' }],
])('%s is found', (_what, answer) => {
  expect(() => expectDocumented('listUnits', answer)).toThrow('listUnits answered')
})

const server = `wheel-to-dial/${VERSION}`

const table = {
  status: 200,
  headers: {
    server,
    'content-type': 'text/csv; charset=utf-8',
    'content-disposition': 'attachment; filename="parts.csv"',
  },
  text: 'mm\r\n1\r\n',
  body: undefined,
}

test('a header that is missing, text for no number, and a body where there is none are found', () => {
  expectDocumented('exportParts', table)
  const bare = { ...table, headers: { server, 'content-type': 'text/csv; charset=utf-8' } }
  expect(() => expectDocumented('exportParts', bare)).toThrow('exportParts answered')
  const odd = { ...table, text: 'mm\r\nNaN\r\n' }
  expect(() => expectDocumented('exportParts', odd)).toThrow('exportParts answered')
  const gone = { status: 204, headers: { server }, text: '', body: undefined }
  expectDocumented('deletePart', gone)
  expect(() => expectDocumented('deletePart', { ...gone, text: '{}' })).toThrow('deletePart answered')
})
