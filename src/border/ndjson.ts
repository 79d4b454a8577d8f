export const NDJSON = 'application/x-ndjson'

const LINE_FEED = 10
const BYTE_ORDER_MARK = Buffer.from('\ufeff')
const FIRST_ROOM = 1024

/** A line without its line feed; `undefined`: it was longer than is taken. */
export type Line = Buffer | undefined

/**
 * Cuts bytes that come in chunks into lines, holding no more than one line. The chunks may be cut anywhere, inside a
 * character too. A carriage return before the line feed stays: to JSON it is a blank. A byte order mark before the first
 * line is taken off.
 *
 * @see RFC 8259, 2 and 8.1
 */
export class LineSplitter {
  private readonly longest: number
  /** The line that has begun: its bytes are the first `length` of `room`, unless there were too many. */
  private room = Buffer.allocUnsafe(FIRST_ROOM)
  private length = 0
  private tooLong = false
  private first = true

  /** @param longest - Bytes of the longest line that is given whole */
  constructor(longest: number) {
    this.longest = longest
  }

  /** The lines that end in a chunk. They are views on it: look at them before the next one. */
  *push(chunk: Buffer): Generator<Line, void> {
    let start = 0
    for (let end = chunk.indexOf(LINE_FEED); end >= 0; end = chunk.indexOf(LINE_FEED, start)) {
      yield this.finished(chunk.subarray(start, end))
      start = end + 1
    }
    this.hold(chunk.subarray(start))
  }

  /** The last line, when it has no line feed. */
  *end(): Generator<Line, void> {
    if (this.length > 0 || this.tooLong) yield this.finished(Buffer.alloc(0))
  }

  private finished(rest: Buffer): Line {
    let line: Line = rest
    if (this.length > 0 || this.tooLong) {
      this.hold(rest)
      line = this.tooLong ? undefined : this.room.subarray(0, this.length)
      this.length = 0
      this.tooLong = false
    } else if (rest.length > this.longest) line = undefined
    if (!this.first) return line
    this.first = false
    return line?.subarray(0, 3).equals(BYTE_ORDER_MARK) === true ? line.subarray(3) : line
  }

  private hold(part: Buffer): void {
    const length = this.length + part.length
    if (this.tooLong || length > this.longest) {
      this.tooLong = true
      this.length = 0
      return
    }
    if (length > this.room.length) {
      const larger = Buffer.allocUnsafe(Math.min(this.longest, Math.max(length, this.room.length * 2)))
      this.room.copy(larger, 0, 0, this.length)
      this.room = larger
    }
    part.copy(this.room, this.length)
    this.length = length
  }
}

/** Whether nothing but blanks stands on a line. */
export function isBlank(line: Buffer): boolean {
  for (const byte of line) if (byte !== 0x20 && byte !== 0x09 && byte !== 0x0d) return false
  return true
}
