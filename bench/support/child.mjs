import { fork } from 'node:child_process'
import { once } from 'node:events'
import { readFileSync } from 'node:fs'
import { join } from 'node:path'

const root = join(import.meta.dirname, '../..')

/** The first example of the request of an operation in the document. */
export function exampleOf(path) {
  const document = JSON.parse(readFileSync(join(root, 'openapi/openapi.json'), 'utf8'))
  const { $ref } = document.paths[path].post.requestBody.content['application/json'].schema
  return JSON.stringify(document.components.schemas[$ref.split('/').at(-1)].examples[0])
}

/** Starts a server of this folder in its own process; it reports its address and, on request, its CPU time. Its log is not kept. */
export async function start(file, ...args) {
  const child = fork(join(import.meta.dirname, file), args, { stdio: ['ignore', 'ignore', 'inherit', 'ipc'] })
  const stopped = once(child, 'exit')
  const [{ address }] = await Promise.race([
    once(child, 'message'),
    stopped.then(() => {
      throw new Error(`${file} did not start`)
    }),
  ])
  return {
    address,
    /** Requests a report: CPU time and further figures. */
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
 * @param more - Makes the further figures of each report
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
