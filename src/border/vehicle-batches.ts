import { BatchLine, type BatchSummaryShape } from '../schemas/vehicle-batches.js'
import type { Block, Framing } from './batches.js'
import { NDJSON } from './ndjson.js'

/** Answers a line each, the summary last. */
export const AS_LINES: Framing = {
  mediaType: NDJSON,
  open: '',
  between: '',
  after: '\n',
  close: (summary) => `${JSON.stringify({ summary })}\n`,
}

/** Answers and summary in one object. */
export const AS_OBJECT: Framing = {
  mediaType: 'application/json; charset=utf-8',
  open: '{"results":[',
  between: ',',
  after: '',
  close: (summary: BatchSummaryShape) => `],"summary":${JSON.stringify(summary)}}`,
}

const { maxLength: LONGEST_REF = 0 } = BatchLine.properties.ref

/** The caller's reference of an item, even when all else about it is wrong. */
export function refOf(value: unknown): string | undefined {
  const ref = typeof value === 'object' && value !== null ? (value as { ref?: unknown }).ref : undefined
  return typeof ref === 'string' && ref !== '' && ref.length <= LONGEST_REF ? ref : undefined
}

/** The items of a list that is there already. */
export async function* listed(values: readonly unknown[]): AsyncGenerator<Block, void> {
  yield values.map((value, index) => ({ line: index + 1, read: () => value }))
}
