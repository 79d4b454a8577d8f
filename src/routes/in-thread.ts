import type { FastifyReply } from 'fastify'
import type { Jobs } from './jobs.js'
import type { RouteOptions } from './options.js'
import { sendText } from './stored-responses.js'

/** Runs a computation in a worker thread and sends the same response as the main thread would. */
export async function inThread<J extends keyof Jobs>(
  reply: FastifyReply,
  { runJob }: RouteOptions,
  job: J,
  input: Jobs[J]['takes'],
): Promise<Jobs[J]['answers']> {
  // The type of the route expects the answer, but its text has already been sent.
  return sendText(reply, await runJob(reply.request, job, input)) as never
}
