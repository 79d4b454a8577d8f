import { DomainError } from '../domain/errors.js'
import type { ReadJson } from '../http/raw-body.js'
import { RequestProblem } from '../http/request-problem.js'
import { JOBS, type Jobs } from '../routes/jobs.js'
import { lazyCompile } from './lazy-compile.js'
import { jsonReader } from './raw-bodies.js'
import { answerText } from './serialization.js'
import { schemaChecks } from './validation.js'

/** A job as sent to a thread. */
export interface JobMessage<J extends keyof Jobs = keyof Jobs> {
  readonly job: J
  readonly input: Jobs[J]['takes']
}

/** A coded error as data: an instance of our error classes would arrive as a plain Error. */
export type Refusal =
  | { readonly domain: ConstructorParameters<typeof DomainError> }
  | { readonly request: ConstructorParameters<typeof RequestProblem> }

/** The result: the answer as bytes, which are fast to transfer whatever its size. */
export type JobOutcome = { readonly answer: Uint8Array } | { readonly refused: Refusal }

/** All jobs. The PDF library takes long to load, so it is imported only for a job that prints. */
const ALL: {
  readonly [J in keyof Jobs]: (
    input: Jobs[J]['takes'],
    readJson: ReadJson,
  ) => Jobs[J]['answers'] | Promise<Jobs[J]['answers']>
} = {
  ...JOBS,
  worksheetPdf: async ({ worksheet, paper }) => {
    const [{ pdfBytes }, { worksheetSheet }] = await Promise.all([
      import('../paper/pdf.js'),
      import('../paper/worksheet-sheet.js'),
    ])
    return pdfBytes(worksheetSheet(worksheet), paper)
  },
}

const readJson = jsonReader(schemaChecks(lazyCompile))

const bytesOf = (answer: unknown): Uint8Array =>
  answer instanceof Uint8Array ? answer : new TextEncoder().encode(answerText(answer))

/** Runs in a thread of the pool. */
export default async function work({ job, input }: JobMessage): Promise<JobOutcome> {
  try {
    return { answer: bytesOf(await ALL[job](input as never, readJson)) }
  } catch (error) {
    if (error instanceof DomainError)
      return { refused: { domain: [error.code, error.message, error.context] } }
    if (error instanceof RequestProblem)
      return { refused: { request: [error.code, error.message, error.errors, error.headers] } }
    throw error
  }
}
