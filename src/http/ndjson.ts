export const NDJSON = 'application/x-ndjson'

const LINE_FEED = 10
const CARRIAGE_RETURN = 13
const BLANK = 32
const [QUOTE, BACKSLASH, COMMA] = [34, 92, 44]
const [OPEN_LIST, CLOSE_LIST, OPEN_OBJECT, CLOSE_OBJECT] = [91, 93, 123, 125]
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

/**
 * The items of the list that is the one member of a JSON object, each on a line of its own. The text is valid JSON: a line break in
 * it stands between its tokens.
 */
export function itemsAsLines(json: Uint8Array): Uint8Array {
  const lines = Uint8Array.from(json)
  let depth = 0
  let start = 0
  let end = 0
  for (let i = 0; i < lines.length; i++) {
    const byte = lines[i]
    if (byte === QUOTE) {
      for (i++; lines[i] !== QUOTE; i++) if (lines[i] === BACKSLASH) i++
    } else if (byte === OPEN_LIST || byte === OPEN_OBJECT) {
      depth++
      if (depth === 2) start = i + 1
    } else if (byte === CLOSE_LIST || byte === CLOSE_OBJECT) {
      if (depth === 2) end = i
      depth--
    } else if (byte === COMMA && depth === 2) lines[i] = LINE_FEED
    else if (byte === LINE_FEED || byte === CARRIAGE_RETURN) lines[i] = BLANK
  }
  return lines.slice(start, end)
}

/** Whether nothing but blanks stands on a line. */
export function isBlank(line: Buffer): boolean {
  for (const byte of line) if (byte !== 0x20 && byte !== 0x09 && byte !== 0x0d) return false
  return true
}
