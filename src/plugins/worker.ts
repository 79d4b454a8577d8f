import { JOBS, type Jobs } from '../border/jobs.js'
import { DomainError, type ErrorCode, type ErrorContext } from '../domain/errors.js'

/** One job as it crosses into a thread. */
export interface JobMessage<J extends keyof Jobs = keyof Jobs> {
  readonly job: J
  readonly input: Jobs[J]['takes']
}

/** What comes back. A coded failure is carried as data: an error of a class of ours would arrive as a plain one. */
export type JobOutcome =
  | { readonly answer: Jobs[keyof Jobs]['answers'] }
  | { readonly refused: { code: ErrorCode; message: string; context: ErrorContext } }

/** All jobs. The typesetter takes long to load: only a thread that prints loads it. */
const ALL: {
  readonly [J in keyof Jobs]: (input: Jobs[J]['takes']) => Jobs[J]['answers'] | Promise<Jobs[J]['answers']>
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

/** Runs in a thread of the pool. */
export default async function work({ job, input }: JobMessage): Promise<JobOutcome> {
  try {
    return { answer: await ALL[job](input as never) }
  } catch (error) {
    if (!(error instanceof DomainError)) throw error
    return { refused: { code: error.code, message: error.message, context: error.context } }
  }
}
