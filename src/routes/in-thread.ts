import type { FastifyReply } from 'fastify'
import type { Jobs } from './jobs.js'
import { sendText } from './keep.js'
import type { RouteOptions } from './options.js'

/** Answers a computation in a thread, as it would be answered at once. */
export async function inThread<J extends keyof Jobs>(
  reply: FastifyReply,
  { runJob }: RouteOptions,
  job: J,
  input: Jobs[J]['takes'],
): Promise<Jobs[J]['answers']> {
  // The reply stands for the answer that it has sent, which its type cannot say.
  return sendText(reply, await runJob(reply.request, job, input)) as never
}
