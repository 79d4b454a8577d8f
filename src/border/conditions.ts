import { createHash } from 'node:crypto'
import type { Versions } from '../db/store.js'
import { RequestProblem } from './request-problem.js'

/** The entity tag of a version of a stored thing. */
export const etagOf = (version: number) => `"${version}"`

const TAG = /^(W\/)?"([\x21\x23-\x7e\x80-\xff]*)"$/

function malformed(header: string, value: string): RequestProblem {
  const detail = `expected an entity tag in quotes, as ETag gave it, several with commas, or *; got ${value.slice(0, 60)}`
  return new RequestProblem('invalid-request', `${header}: ${detail}`, [
    { in: 'header', pointer: `#/${header}`, code: 'wrong-form', detail },
  ])
}

/**
 * The versions that a conditional header names.
 *
 * @param weak - Whether weak tags count: they do for If-None-Match, never for If-Match (RFC 9110, 8.8.3.2)
 * @returns undefined when the header is absent
 * @throws {RequestProblem} `invalid-request` when it is no list of entity tags
 */
function versionsIn(header: string, value: string | undefined, weak: boolean): Versions | undefined {
  if (value === undefined) return undefined
  if (value.trim() === '*') return 'any'
  const versions: number[] = []
  for (const item of value.split(',')) {
    const [, weakMark, tag] = TAG.exec(item.trim()) ?? []
    if (tag === undefined) throw malformed(header, value)
    // A tag that we never gave matches nothing.
    if (/^[1-9]\d{0,15}$/.test(tag) && (weak || weakMark === undefined)) versions.push(Number(tag))
  }
  return versions
}

/** Headers by which a request asks for a version. */
export interface ConditionalHeaders {
  readonly 'if-match'?: string | undefined
  readonly 'if-none-match'?: string | undefined
}

/** If-Match, where the request has one. */
export const ifMatch = (headers: ConditionalHeaders): Versions | undefined =>
  versionsIn('if-match', headers['if-match'], false)

/** If-None-Match, where the request has one. */
export const ifNoneMatch = (headers: ConditionalHeaders): Versions | undefined =>
  versionsIn('if-none-match', headers['if-none-match'], true)

/** If-Match of a change that must have one. @throws {RequestProblem} `condition-required` */
export function requireIfMatch(headers: ConditionalHeaders): Versions {
  const versions = ifMatch(headers)
  if (versions === undefined) {
    throw new RequestProblem(
      'condition-required',
      'A change needs If-Match with the ETag of the version that you read, for example "3"; If-Match: * changes any version.',
    )
  }
  return versions
}

/** Whether what the client has is still what is there: the answer is 304 then. */
export function isUnchanged(headers: ConditionalHeaders, version: number): boolean {
  const versions = ifNoneMatch(headers)
  return versions !== undefined && (versions === 'any' || versions.includes(version))
}

/** The entity tag of an answer that depends on more than a version: on the day, on recorded parts, on its form. */
export const contentTag = (version: number, content: string) =>
  `"${version}-${createHash('sha256').update(content).digest('base64url').slice(0, 22)}"`

/** The entity tag of bytes that are sent as they are. */
export const bytesTag = (bytes: Buffer) => `"${createHash('sha256').update(bytes).digest('base64url')}"`

/** Whether the client has the answer of this entity tag: the answer is 304 then. */
export function hasAnswer(headers: ConditionalHeaders, tag: string): boolean {
  const given = headers['if-none-match']
  if (ifNoneMatch(headers) === undefined || given === undefined) return false
  return given.trim() === '*' || given.split(',').some((item) => item.trim().replace(/^W\//, '') === tag)
}

/**
 * The stored version is not the one in If-Match, or If-Match has a weak tag, which never matches, or If-None-Match allows no stored
 * version (RFC 9110, 13.1).
 */
export function staleVersion(version: number, headers: ConditionalHeaders): RequestProblem {
  const etag = etagOf(version)
  if (headers['if-match'] === undefined) {
    const detail = `If-None-Match asks for a new item, and version ${version} is stored: to replace it, send its ETag ${etag} in If-Match instead.`
    return new RequestProblem('stale-version', detail, [], { etag })
  }
  const weak = headers['if-match'].split(',').some((item) => item.trim() === `W/${etag}`)
  const detail = weak
    ? `If-Match names the stored version by a weak tag, W/${etag}, and a weak tag never matches here (RFC 9110, 13.1.1): send the ETag without W/, ${etag}.`
    : `It was changed meanwhile: version ${version} is stored now. Read it, make the change again, and send its ETag in If-Match.`
  return new RequestProblem('stale-version', detail, [], { etag })
}
