// The floor: a route of the framework that reads and validates the same body and sends the same bytes, from an object that
// was made before. It computes nothing and has no plugin.
import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { Ajv } from 'ajv'
import Fastify from 'fastify'
import { request } from 'undici'
import { exampleOf, report } from './child.mjs'

const [path, serviceAddress] = process.argv.slice(2)
const document = JSON.parse(readFileSync(join(import.meta.dirname, '../../openapi/openapi.json'), 'utf8'))
const headers = { 'content-type': 'application/json' }
const answer = await request(serviceAddress + path, { method: 'POST', headers, body: exampleOf(path) })
if (answer.statusCode !== 200) throw new Error(`${path} answered ${answer.statusCode}`)
const bytes = await answer.body.text()
const ready = JSON.parse(bytes)
if (JSON.stringify(ready) !== bytes) throw new Error('the floor would not answer the same bytes')

const ajv = new Ajv({ strict: false })
ajv.addSchema({ $id: 'openapi', ...document })
const app = Fastify({ logger: false })
app.setValidatorCompiler(({ schema }) => ajv.compile(schema))
const { $ref } = document.paths[path].post.requestBody.content['application/json'].schema
app.post(path, { schema: { body: { $ref: `openapi${$ref}` } } }, () => ready)
await report(app)
