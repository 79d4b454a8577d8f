import { isUtf8 } from 'node:buffer'
import type { FastifyInstance } from 'fastify'
import { MERGE_PATCH } from '../http/merge-patch.js'
import { pointerFragment, pointerPart } from '../http/pointer.js'
import { JSON_TYPE } from '../http/raw-body.js'
import { RequestProblem, wrongMediaType } from '../http/request-problem.js'

const DEEPEST = 64

/**
 * Maximum number of objects and lists, and of commas: in memory they take many times the one or two characters of their text. The
 * longest track has 250 000 objects, the longest log 1 000 000 numbers.
 */
const MAX_NODES = 300_000
const MAX_COMMAS = 1_100_000

const QUOTE = 34
const BACKSLASH = 92
const COLON = 58
const COMMA = 44
const [OPEN_OBJECT, CLOSE_OBJECT, OPEN_LIST, CLOSE_LIST] = [123, 125, 91, 93]

interface TextMeasure {
  /** Number of object members in the text, duplicates included. */
  readonly members: number
  /** Number of objects and lists. */
  readonly nodes: number
  readonly commas: number
  /** Deepest nesting. */
  readonly depth: number
}

/** Counts the structure of a JSON text without parsing it. */
function measureText(text: string): TextMeasure {
  let members = 0
  let nodes = 0
  let commas = 0
  let depth = 0
  let deepest = 0
  for (let i = 0; i < text.length; i++) {
    const c = text.charCodeAt(i)
    if (c === QUOTE) {
      for (i++; i < text.length; i++) {
        const s = text.charCodeAt(i)
        if (s === BACKSLASH) i++
        else if (s === QUOTE) break
      }
    } else if (c === COLON) members++
    else if (c === COMMA) commas++
    else if (c === OPEN_OBJECT || c === OPEN_LIST) {
      nodes++
      deepest = Math.max(deepest, ++depth)
    } else if (c === CLOSE_OBJECT || c === CLOSE_LIST) depth--
  }
  return { members, nodes, commas, depth: deepest }
}

function countMembers(value: unknown): number {
  if (typeof value !== 'object' || value === null) return 0
  if (Array.isArray(value)) return value.reduce((total: number, item) => total + countMembers(item), 0)
  let total = 0
  for (const key in value) total += 1 + countMembers((value as Record<string, unknown>)[key])
  return total
}

/** Index of the closing quote of the string that begins at `start`. */
function endOfText(text: string, start: number): number {
  let end = start + 1
  while (text.charCodeAt(end) !== QUOTE) end += text.charCodeAt(end) === BACKSLASH ? 2 : 1
  return end
}

/**
 * JSON Pointer of the first duplicate key in a valid JSON text. Not by a regular expression, which would run out of stack on a string
 * of megabytes.
 */
function firstDuplicate(text: string): string {
  const frames: Array<{ seen?: Set<string>; key: string; index: number }> = []
  let expectKey = false
  for (let i = 0; i < text.length; i++) {
    const c = text.charCodeAt(i)
    const frame = frames.at(-1)
    if (c === OPEN_OBJECT || c === OPEN_LIST) {
      expectKey = c === OPEN_OBJECT
      frames.push({ ...(expectKey ? { seen: new Set() } : {}), key: '', index: 0 })
    } else if (c === CLOSE_OBJECT || c === CLOSE_LIST) {
      frames.pop()
      expectKey = false
    } else if (c === COMMA) {
      expectKey = frame!.seen !== undefined
      frame!.index++
    } else if (c === QUOTE) {
      const end = endOfText(text, i)
      if (expectKey) {
        const key: string = JSON.parse(text.slice(i, end + 1))
        const { seen } = frame!
        frame!.key = key
        if (seen!.has(key)) return frames.map((at) => pointerPart(at.seen ? at.key : at.index)).join('')
        seen!.add(key)
        expectKey = false
      }
      i = end
    }
  }
  return ''
}

/**
 * Parses JSON strictly: UTF-8, no duplicate keys, limited nesting and number of objects and lists. A byte order mark is accepted.
 *
 * @param name - Name of the text in the problem
 * @throws {RequestProblem} `malformed-json`, `duplicate-key`, `nested-too-deep`, `body-too-large`
 */
export function parseStrictJson(body: Buffer, name = 'body'): unknown {
  if (!isUtf8(body)) throw new RequestProblem('malformed-json', `The ${name} is not valid UTF-8.`)
  const raw = body.toString('utf8')
  const text = raw.charCodeAt(0) === 0xfeff ? raw.slice(1) : raw
  if (text.trim() === '')
    throw new RequestProblem('malformed-json', `The ${name} is empty; send a JSON object.`)
  const { members, nodes, commas, depth } = measureText(text)
  if (depth > DEEPEST) {
    throw new RequestProblem(
      'nested-too-deep',
      `The ${name} is nested ${depth} levels deep; at most ${DEEPEST} are read.`,
    )
  }
  const tooMany = (count: number, what: string, max: number) =>
    new RequestProblem('body-too-large', `The ${name} holds ${count} ${what}; at most ${max} are read.`)
  if (nodes > MAX_NODES) throw tooMany(nodes, 'objects and lists', MAX_NODES)
  if (commas > MAX_COMMAS) throw tooMany(commas, 'commas', MAX_COMMAS)
  let value: unknown
  try {
    value = JSON.parse(text)
  } catch (cause) {
    const place = /position (\d+)/.exec((cause as Error).message)
    const where = place === null ? '' : ` near character ${place[1]}`
    throw new RequestProblem('malformed-json', `The ${name} is not JSON: a syntax error${where}.`)
  }
  if (countMembers(value) !== members) {
    const pointer = pointerFragment(firstDuplicate(text))
    const detail = 'is given twice in its object; keep one'
    throw new RequestProblem('duplicate-key', `The key at ${pointer} ${detail}.`, [
      { in: 'body', pointer, code: 'duplicate-key', detail },
    ])
  }
  return value
}

const CHARSET = /;\s*charset\s*=\s*"?([^\s;"]+)/gi

/** Media types as most clients send them, which need no closer look. */
const PLAIN: ReadonlySet<string | undefined> = new Set([undefined, JSON_TYPE])

/** Parses JSON bodies strictly: of PATCH merge patches, of other methods JSON. A route that takes another media type adds its parser. */
export function registerStrictJson(app: FastifyInstance): void {
  app.removeAllContentTypeParsers()
  for (const mediaType of [JSON_TYPE, MERGE_PATCH]) {
    app.addContentTypeParser(mediaType, { parseAs: 'buffer' }, (request, body, done) => {
      try {
        const wanted = request.method === 'PATCH' ? MERGE_PATCH : JSON_TYPE
        if (mediaType !== wanted) throw wrongMediaType(request.headers['content-type'], wanted)
        done(null, parseStrictJson(body as Buffer))
      } catch (error) {
        done(error as Error)
      }
    })
  }
  // The parsers ignore Content-Encoding and charset, and would misread such a body.
  app.addHook('onRequest', (request, _reply, done) => {
    const encoding = request.headers['content-encoding']
    if (encoding !== undefined && encoding.toLowerCase() !== 'identity') {
      return done(
        new RequestProblem(
          'unsupported-media-type',
          `Content-Encoding ${encoding} is not supported; send the body uncompressed, without Content-Encoding.`,
        ),
      )
    }
    const type = request.headers['content-type']
    if (PLAIN.has(type)) return done()
    // Every charset parameter is checked: if there are two, it is unclear which one applies.
    for (const [, charset = ''] of type!.matchAll(CHARSET)) {
      if (/^utf-?8$/i.test(charset)) continue
      return done(
        new RequestProblem('unsupported-media-type', `The charset ${charset} is not supported; send UTF-8.`),
      )
    }
    done()
  })
}
