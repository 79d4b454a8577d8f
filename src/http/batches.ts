import type { BatchEnd, BatchSummaryShape } from '../schemas/vehicle-batches.js'

/** One thing of a batch. */
export interface BatchItem {
  /** Counts the lines of the request, or the items, from 1. */
  readonly line: number
  /** Looked at when its turn comes. @throws what is wrong with it */
  readonly read: () => unknown
}

/** What became of an item, as JSON text. */
export interface BatchAnswer {
  readonly ok: boolean
  readonly text: string
}

/** Items that are there at once; undefined is a blank line. */
export type Block = Iterable<BatchItem | undefined>

/** A batch while it is answered. */
export interface BatchRun {
  /** Ends it before its time. */
  end(reason: BatchEnd): void
  /** Aborted once it is to end before its time. */
  readonly signal: AbortSignal
}

/** Where the items of a batch come from. */
export interface BatchSource {
  /** The blocks, until there are no more or the batch is to end. */
  blocks(run: BatchRun): AsyncIterable<Block>
  /** Reads on after a batch that ended before its time, so that the caller comes to read the answer. */
  discard?(): Promise<void>
  /** What else the summary says. */
  summary?(): object
}

/** How answers are put together to one text. */
export interface Framing {
  readonly mediaType: string
  readonly open: string
  readonly between: string
  readonly after: string
  close(summary: BatchSummaryShape): string
}

/** A batch, as a route has it answered. */
export interface Batch {
  readonly source: BatchSource
  /** Must not fail: what is wrong with an item is its answer. */
  readonly answer: (item: BatchItem) => Promise<BatchAnswer>
  readonly framing: Framing
}
