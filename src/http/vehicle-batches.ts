import { BatchLine, type BatchSummaryShape, VehicleList } from '../schemas/vehicle-batches.js'
import type { BatchItem, Block, Framing } from './batches.js'
import { itemsAsLines, LineSplitter, NDJSON } from './ndjson.js'
import type { RawBody, ReadJson } from './raw-body.js'

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

/** A JSON batch in the form of lines: to read all of its vehicles at once would keep others waiting. */
export function vehicleLinesOf({ bytes }: RawBody, readJson: ReadJson): Uint8Array {
  readJson(VehicleList, bytes)
  return itemsAsLines(bytes)
}

function* itemsOf(lines: Buffer): Generator<BatchItem, void> {
  const splitter = new LineSplitter(lines.length)
  let count = 0
  for (const part of [splitter.push(lines), splitter.end()]) {
    for (const text of part) {
      count++
      yield { line: count, read: () => JSON.parse(String(text)) }
    }
  }
}

/** The vehicles of a JSON batch, by its lines. */
export async function* listed(lines: Uint8Array): AsyncGenerator<Block, void> {
  yield itemsOf(Buffer.from(lines.buffer, lines.byteOffset, lines.byteLength))
}
