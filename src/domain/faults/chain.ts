import { DomainError } from '../errors.js'
import type { Mutable } from '../mutable.js'

/**
 * How often a link of each kind is the one at fault, as weights; common practice, no source. Only their proportions count, and a caller who knows
 * better overrides them.
 *
 * Moving parts that are out of sight and bend fail most; a counter in the middle of a drive seldom does; connectors and leads fail more
 * often than the parts that they join.
 */
export const PRIOR_WEIGHTS = {
  'wheel-drive-cap': 2,
  'angle-drive': 3,
  'lower-cable': 4,
  'service-counter': 1,
  'upper-cable': 3,
  head: 3,
  'pulse-ring': 2,
  sensor: 3,
  wiring: 4,
  supply: 2,
  controller: 1,
  display: 2,
  interaction: 2,
  other: 2,
} as const

export type LinkKind = keyof typeof PRIOR_WEIGHTS

const ELECTRONIC: ReadonlySet<LinkKind> = new Set([
  'pulse-ring',
  'sensor',
  'wiring',
  'supply',
  'controller',
  'display',
])

/** A link as the caller names it. */
export interface LinkGiven {
  readonly kind: LinkKind
  /** Absent: the kind is the name. */
  readonly name?: string
  /** Weight in place of the usual one. [>= 0] */
  readonly prior?: number
  /** Of an interaction: the links that must be together for it to show; absent: all links in line. */
  readonly between?: readonly string[]
}

export interface Link {
  readonly kind: LinkKind
  readonly name: string
  readonly prior: number
  readonly priorGiven: boolean
  readonly electronic: boolean
  /** Of an interaction: positions of the links that must be together for it to show. */
  readonly between?: readonly number[]
}

/** An interaction that the caller did not name: somewhere among the mechanical links, where is open. */
export interface PutIn {
  /** Its position. */
  readonly link: number
  /** Where it may be, each as likely as the others before any test: two neighbours, or all mechanical links; positions. */
  readonly places: readonly (readonly number[])[]
}

export interface Chain {
  readonly links: readonly Link[]
  /** Positions of the links that motion or signal passes through one after the other; not the supply, nor interactions. */
  readonly line: readonly number[]
  readonly putIn?: PutIn
}

/**
 * The links with an interaction of the mechanical ones after them, where the caller named none and there are two or more: without it a search
 * blames the part that breaks, though what breaks it is how the parts meet. Its weight has the share in all weights that it has among the usual ones.
 */
function withInteraction(given: readonly LinkGiven[]): readonly LinkGiven[] {
  const mechanical = given.filter(({ kind }) => !ELECTRONIC.has(kind))
  if (mechanical.length < 2 || given.some(({ kind }) => kind === 'interaction')) return given
  const names = given.map(nameOf)
  let name = 'interaction'
  while (names.includes(name)) name += ' of all'
  const usual = given.reduce((sum, { kind }) => sum + PRIOR_WEIGHTS[kind], 0)
  const prior = (PRIOR_WEIGHTS.interaction * weightOf(given)) / usual
  return [...given, { kind: 'interaction', name, prior, between: mechanical.map(nameOf) }]
}

const nameOf = ({ name, kind }: LinkGiven): string => name ?? kind

const weightOf = (links: readonly LinkGiven[]): number =>
  links.reduce((sum, { prior, kind }) => sum + (prior ?? PRIOR_WEIGHTS[kind]), 0)

/**
 * A chain of links, of which one is at fault, with the probability of each.
 *
 *     P(i) = weightᵢ / Σ weights
 *
 * Two or more mechanical links without an interaction get one, of two neighbors or of all of them; an interaction with the prior 0 leaves it out.
 *
 * @param named - Links from wheel to dial, 1 to 20
 * @returns Links with names and probabilities
 * @throws {DomainError} `link-repeated`, `link-unknown`, `priors-all-zero`
 * @see usual weights are common practice, no source
 * @example chainOf([{ kind: 'sensor' }, { kind: 'display', prior: 1 }]).links[0].prior // 0.75 ± 1e-12
 * @example chainOf([{ kind: 'lower-cable' }, { kind: 'head' }]).links[2].prior // 0.2222222 ± 1e-7
 * @example chainOf([{ kind: 'wiring' }, { kind: 'wiring' }]) // throws link-repeated
 */
export function chainOf(named: readonly LinkGiven[]): Chain {
  const given = withInteraction(named)
  const names = given.map(nameOf)
  for (const [i, name] of names.entries()) {
    if (names.indexOf(name) < i) {
      throw new DomainError(
        'link-repeated',
        `chain: two links are called "${name}"; give each a name of its own`,
        { pointer: `/chain/${i}`, name },
      )
    }
  }
  const weights = given.map(({ prior, kind }) => prior ?? PRIOR_WEIGHTS[kind])
  const total = weightOf(given)
  if (!(total > 0)) {
    throw new DomainError('priors-all-zero', 'chain: every prior is zero, so no link can be at fault', {
      pointer: '/chain',
    })
  }
  const line = given.flatMap(({ kind }, i) => (kind === 'supply' || kind === 'interaction' ? [] : [i]))
  const links = given.map((link, i): Link => {
    const out: Mutable<Link> = {
      kind: link.kind,
      name: names[i]!,
      prior: weights[i]! / total,
      priorGiven: i < named.length && link.prior !== undefined,
      electronic: ELECTRONIC.has(link.kind),
    }
    if (link.kind === 'interaction') {
      out.between =
        link.between === undefined
          ? line
          : link.between.map((name, k) => positionOf(names, name, `/chain/${i}/between/${k}`))
    }
    return out
  })
  if (given.length === named.length) return { links, line }
  const all = links.at(-1)!.between!
  const neighbors = all.slice(1).map((i, k) => [all[k]!, i])
  return {
    links,
    line,
    putIn: { link: named.length, places: all.length > 2 ? [...neighbors, all] : neighbors },
  }
}

/**
 * Position of a link by its name.
 *
 *     i with nameᵢ = name
 *
 * @param names - Names of the links
 * @param name - Name looked for
 * @param pointer - Where the name stands in the request, for the failure
 * @returns Position
 * @throws {DomainError} `link-unknown`
 * @see names are the caller's own
 * @example positionOf(['ring', 'sensor'], 'sensor', '') // 1 ± 0
 */
export function positionOf(names: readonly string[], name: string, pointer: string): number {
  const position = names.indexOf(name)
  if (position < 0) {
    throw new DomainError(
      'link-unknown',
      `"${name}" is not a link of the chain; its links are ${names.map((one) => `"${one}"`).join(', ')}`,
      { pointer, name },
    )
  }
  return position
}
