import { RequestProblem } from './request-problem.js'

/** Quality that an Accept header gives a media type, or Accept-Encoding a coding: that of the most exact range that holds it, 0 for none. */
export function quality(accept: string, wanted: string): number {
  const [type] = wanted.split('/')
  let best = { exactness: -1, q: 0 }
  for (const part of accept.split(',')) {
    const [range = '', ...parameters] = part.split(';').map((text) => text.trim().toLowerCase())
    const exactness = range === wanted ? 2 : range === `${type}/*` ? 1 : range === '*/*' ? 0 : -1
    if (exactness < 0 || exactness < best.exactness) continue
    const given = parameters.find((parameter) => parameter.startsWith('q='))
    const q = given === undefined ? 1 : Number(given.slice(2))
    best = { exactness, q: Number.isFinite(q) ? q : 0 }
  }
  return best.q
}

/**
 * The representation that the caller wants most, out of those there are; without an Accept header the first.
 *
 * @throws {RequestProblem} `not-acceptable`, naming what there is
 * @see RFC 9110, 12.5.1
 */
export function preferred<const T extends string>(accept: string | undefined, offered: readonly T[]): T {
  if (accept === undefined || accept.trim() === '') return offered[0]!
  const [best] = offered
    .map((mediaType, index) => ({ mediaType, index, q: quality(accept, mediaType) }))
    .filter(({ q }) => q > 0)
    .sort((a, b) => b.q - a.q || a.index - b.index)
  if (best === undefined) {
    throw new RequestProblem(
      'not-acceptable',
      `This URL answers with ${offered.join(' or ')}; name one of them in Accept.`,
    )
  }
  return best.mediaType
}
