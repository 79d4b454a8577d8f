// The floor of a read: a route of the framework that sends one text unchanged. No key, no database, no plugin.
import Fastify from 'fastify'
import { report } from './child.mjs'

const [text] = process.argv.slice(2)
const app = Fastify({ logger: false })
app.get('/v1/vehicles/:id', (_request, reply) =>
  reply.header('content-type', 'application/json; charset=utf-8').send(text),
)
await report(app)
