import type { ReadJson } from '../border/raw-body.js'
import { RequestProblem } from '../border/request-problem.js'
import { DomainError } from '../domain/errors.js'
import { JOBS, type Jobs } from '../routes/jobs.js'
import { atFirstUse } from './first-use.js'
import { jsonReader } from './raw-bodies.js'
import { answerText } from './serialization.js'
import { schemaChecks } from './validation.js'

/** One job as it crosses into a thread. */
export interface JobMessage<J extends keyof Jobs = keyof Jobs> {
  readonly job: J
  readonly input: Jobs[J]['takes']
}

/** A failure with a code, carried as data: an error of a class of ours would arrive as a plain one. */
export type Refusal =
  | { readonly domain: ConstructorParameters<typeof DomainError> }
  | { readonly request: ConstructorParameters<typeof RequestProblem> }

/** What comes back: the bytes of the answer, which cross at once however much it says. */
export type JobOutcome = { readonly answer: Uint8Array } | { readonly refused: Refusal }

/** All jobs. The typesetter takes long to load: only a thread that prints loads it. */
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

const readJson = jsonReader(schemaChecks(atFirstUse))

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
