import { fork } from 'node:child_process'
import { once } from 'node:events'
import { readFileSync } from 'node:fs'
import { join } from 'node:path'

const root = join(import.meta.dirname, '../..')

/** The first example of an operation's request, as the document gives it. */
export function exampleOf(path) {
  const document = JSON.parse(readFileSync(join(root, 'openapi/openapi.json'), 'utf8'))
  const { $ref } = document.paths[path].post.requestBody.content['application/json'].schema
  return JSON.stringify(document.components.schemas[$ref.split('/').at(-1)].examples[0])
}

/** Starts a server of this folder in a process of its own; it reports its address, and its CPU time when asked. */
export async function start(file, ...args) {
  const child = fork(join(import.meta.dirname, file), args)
  const stopped = once(child, 'exit')
  const [{ address }] = await Promise.race([
    once(child, 'message'),
    stopped.then(() => {
      throw new Error(`${file} did not start`)
    }),
  ])
  return {
    address,
    /** What it reports when asked: its CPU time, and what else it has. */
    async facts(question = 'facts') {
      child.send(question)
      const [facts] = await once(child, 'message')
      return facts
    },
    async cpuS() {
      return (await this.facts()).cpuS
    },
    async stop() {
      child.disconnect()
      await stopped
    },
  }
}

/**
 * The other side of `start`.
 *
 * @param more - What else is reported, each time it is asked for
 */
export async function report(app, more = () => ({})) {
  const address = await app.listen({ host: '127.0.0.1', port: 0, backlog: 4096 })
  process.on('message', async () => {
    const { user, system } = process.cpuUsage()
    process.send({ cpuS: (user + system) / 1e6, ...(await more()) })
  })
  process.on('disconnect', () => process.exit(0))
  process.send({ address })
}
