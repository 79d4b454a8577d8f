import type { FastifyInstance } from 'fastify'

/**
 * Lets close() end in seconds: a kept-alive connection with a request in flight would otherwise go idle after its answer
 * and be waited for until its keep-alive timeout, over a minute.
 */
export function closePromptly(app: FastifyInstance): void {
  let closing = false
  app.addHook('preClose', (done) => {
    closing = true
    done()
  })
  app.addHook('onSend', (_request, reply, payload, done) => {
    if (closing) reply.header('connection', 'close')
    done(null, payload)
  })
}
