// The floor of a start: the framework with @fastify/swagger and the database driver on a WAL file, one route.
import swagger from '@fastify/swagger'
import SqliteDatabase from 'better-sqlite3'
import Fastify from 'fastify'

const db = new SqliteDatabase(process.env.DATABASE_FILE)
db.pragma('journal_mode = WAL')
const read = db.prepare('SELECT 1 AS one')
const app = Fastify({ logger: false })
await app.register(swagger, { openapi: { openapi: '3.1.0', info: { title: 'bare', version: '1' } } })
const response = { 200: { type: 'object', properties: { one: { type: 'integer' } } } }
app.get('/one', { schema: { response } }, () => read.get())
await app.listen({ host: '127.0.0.1', port: Number(process.env.PORT) })
console.log('listens on')
