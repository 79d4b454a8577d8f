import { SaxesParser, type SaxesTagNS } from 'saxes'
import { DomainError } from '../domain/errors.js'
import { RequestProblem } from '../http/request-problem.js'

/** A recorded position, in degrees of WGS 84, and its moment. */
export interface GpxPoint {
  latDeg: number
  lonDeg: number
  timeS?: number
}

const GPX = 'http://www.topografix.com/GPX/1/1'

/** Maximum nesting depth; a track point is at the fourth level. */
const DEEPEST = 32

/** Maximum number of attributes of one element; a track point has two, the outermost element those that name its schemas. */
const MAX_ATTRIBUTES = 64

/** Bytes that are looked at at a time: the parser keeps what it has read of a text until its end. */
const CHUNK = 65_536

/** Maximum length of the text of a time. */
const LONGEST_TIME = 64

const malformed = (detail: string) => new RequestProblem('malformed-gpx', detail)

/**
 * A date-time of GPX or JSON, in seconds.
 *
 * @throws {DomainError} `time-not-understood` for a date-time that does not exist
 */
export function momentS(text: string, pointer: string): number {
  const trimmed = text.trim()
  const form = /^(\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2})(\.\d+)?(Z|[+-]\d{2}:\d{2})?$/.exec(trimmed)
  // GPX times without a zone are UTC; the fraction is parsed separately, since a Date has only milliseconds.
  const wholeMs = form === null ? Number.NaN : Date.parse(`${form[1]}${form[3] ?? 'Z'}`)
  if (!Number.isFinite(wholeMs)) {
    throw new DomainError(
      'time-not-understood',
      `${pointer.slice(1)}: ${JSON.stringify(trimmed.slice(0, 40))} is not a date-time; write it like 2026-05-01T12:00:00Z`,
      { pointer },
    )
  }
  return wholeMs / 1000 + Number(form![2] ?? 0)
}

function coordinate(tag: SaxesTagNS, name: 'lat' | 'lon', limit: number, index: number): number {
  const text = tag.attributes[name]?.value
  const value =
    text !== undefined && /^\s*[+-]?(\d+(\.\d*)?|\.\d+)\s*$/.test(text) ? Number(text) : Number.NaN
  if (!(Math.abs(value) <= limit)) {
    throw malformed(
      `Track point ${index}: ${name} must be a decimal number from -${limit} to ${limit}, got ${text === undefined ? 'none' : JSON.stringify(text.slice(0, 40))}.`,
    )
  }
  return value
}

/** Reader of the tracks of a GPX 1.1 document; waypoints and routes are skipped. */
class TrackReader {
  readonly segments: GpxPoint[][] = []
  private readonly parser = new SaxesParser({ xmlns: true, position: true })
  private readonly maxPoints: number
  private depth = 0
  private attributes = 0
  private points = 0
  private inSegment = false
  private point: GpxPoint | undefined
  private time: string | undefined

  constructor(maxPoints: number) {
    this.maxPoints = maxPoints
    const { parser } = this
    parser.on('error', (error) => {
      throw malformed(`The body is not XML: ${plainReason(error.message)}`)
    })
    // A document type declaration could define entities; GPX has none.
    parser.on('doctype', () => {
      throw malformed('The body has a document type declaration, which GPX does not have; leave it out.')
    })
    parser.on('xmldecl', ({ encoding }) => {
      if (encoding !== undefined && !/^utf-?8$/i.test(encoding))
        throw malformed(`The body declares the encoding ${encoding.slice(0, 40)}; send UTF-8.`)
    })
    parser.on('opentagstart', () => {
      this.attributes = 0
    })
    parser.on('attribute', () => {
      if (++this.attributes > MAX_ATTRIBUTES)
        throw malformed(
          `An element has more than ${MAX_ATTRIBUTES} attributes; leave out those that are not of GPX.`,
        )
    })
    parser.on('opentag', (tag) => this.open(tag))
    parser.on('closetag', (tag) => this.close(tag))
    parser.on('text', (text) => {
      if (this.time !== undefined) this.time = (this.time + text).slice(0, LONGEST_TIME)
    })
  }

  write(text: string): void {
    this.parser.write(text)
  }

  end(): void {
    this.parser.close()
  }

  private open(tag: SaxesTagNS): void {
    this.depth++
    if (this.depth > DEEPEST) throw malformed(`The body is nested more than ${DEEPEST} levels deep.`)
    if (this.depth === 1 && (tag.uri !== GPX || tag.local !== 'gpx')) {
      throw malformed(
        `The outermost element must be gpx of the namespace ${GPX} (GPX 1.1), got ${tag.local.slice(0, 40)} of ${tag.uri === '' ? 'none' : tag.uri.slice(0, 100)}.`,
      )
    }
    if (tag.uri !== GPX) return
    if (tag.local === 'trkseg' && this.depth === 3) {
      this.inSegment = true
      this.segments.push([])
    } else if (tag.local === 'trkpt' && this.inSegment && this.depth === 4) {
      if (this.points === this.maxPoints)
        throw malformed(`The body has more than ${this.maxPoints} track points; send fewer at once.`)
      this.point = {
        latDeg: coordinate(tag, 'lat', 90, this.points),
        lonDeg: coordinate(tag, 'lon', 180, this.points),
      }
    } else if (tag.local === 'time' && this.point !== undefined && this.depth === 5) this.time = ''
  }

  private close(tag: SaxesTagNS): void {
    if (tag.uri === GPX) {
      if (tag.local === 'time' && this.time !== undefined && this.point !== undefined && this.depth === 5) {
        this.point.timeS = momentS(this.time, `/points/${this.points}/time`)
        this.time = undefined
      } else if (tag.local === 'trkpt' && this.point !== undefined && this.depth === 4) {
        this.segments.at(-1)!.push(this.point)
        this.point = undefined
        this.points++
      } else if (tag.local === 'trkseg' && this.depth === 3) this.inSegment = false
    }
    this.depth--
  }
}

/** Reason of a parser error, with its position at the end. */
const plainReason = (message: string) => {
  const place = /^(\d+:\d+): (.*)$/s.exec(message)
  return place === null ? message.slice(0, 200) : `${place[2]!.slice(0, 200)} (line and column ${place[1]})`
}

/**
 * The tracks of a GPX 1.1 document.
 *
 * @param bytes - Its text in UTF-8
 * @param maxPoints - Maximum number of track points
 * @returns Track segments in order, empty ones left out
 * @throws {RequestProblem} `malformed-gpx`
 * @see GPX 1.1 schema (topografix.com/GPX/1/1); a trkseg ends where reception was lost
 */
export function readGpx(bytes: Uint8Array, maxPoints: number): GpxPoint[][] {
  const reader = new TrackReader(maxPoints)
  const decoder = new TextDecoder('utf-8', { fatal: true })
  const decode = (chunk?: Uint8Array) => {
    try {
      return decoder.decode(chunk, { stream: chunk !== undefined })
    } catch {
      throw malformed('The body is not valid UTF-8.')
    }
  }
  for (let start = 0; start < bytes.length; start += CHUNK) {
    reader.write(decode(bytes.subarray(start, start + CHUNK)))
  }
  reader.write(decode())
  reader.end()
  return reader.segments.filter((segment) => segment.length > 0)
}
