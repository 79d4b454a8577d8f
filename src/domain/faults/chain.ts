import type { PartKind } from '../cables/part-kinds.js'
import { DomainError } from '../errors.js'
import type { Mutable } from '../mutable.js'

/** Kinds of links that carry a signal or current; the mechanical ones are `PART_KINDS`. */
export const ELECTRONIC_KINDS = ['pulse-ring', 'sensor', 'wiring', 'supply', 'controller', 'display'] as const

export type LinkKind = PartKind | (typeof ELECTRONIC_KINDS)[number] | 'interaction'

/**
 * How often a link of each kind is the one at fault, as weights; common practice, no source. Only their proportions count, and the caller may give
 * other weights.
 *
 * Cables fail most: they bend and run out of sight. Parts with gears fail less often, and an in-line unit seldom. Wiring fails more often than
 * the parts that it joins.
 */
export const PRIOR_WEIGHTS: Readonly<Record<LinkKind, number>> = {
  'gearbox-drive': 2,
  'hub-drive': 2,
  'angle-drive': 3,
  cable: 4,
  'in-line-unit': 1,
  adapter: 2,
  head: 3,
  'pulse-ring': 2,
  sensor: 3,
  wiring: 4,
  supply: 2,
  controller: 1,
  display: 2,
  interaction: 2,
  other: 2,
}

const ELECTRONIC: ReadonlySet<LinkKind> = new Set(ELECTRONIC_KINDS)

/** A link as the caller names it. */
export interface LinkGiven {
  readonly kind: LinkKind
  /** Absent: the kind is the name. */
  readonly name?: string
  /** Weight in place of the default one. [>= 0] */
  readonly prior?: number
  /** Of an interaction: the links that must run together for it to show; absent: all links in the line. */
  readonly between?: readonly string[]
}

export interface Link {
  readonly kind: LinkKind
  readonly name: string
  readonly prior: number
  readonly priorGiven: boolean
  readonly electronic: boolean
  /** Of an interaction: positions of the links that must run together for it to show. */
  readonly between?: readonly number[]
}

/** An interaction that the service adds where the caller names none: somewhere among the mechanical links. */
export interface AddedInteraction {
  /** Its position in the chain. */
  readonly link: number
  /** Where it may be, by positions: between two neighbours, or among all mechanical links. All are equally likely before any test. */
  readonly places: readonly (readonly number[])[]
}

export interface Chain {
  readonly links: readonly Link[]
  /** Positions of the links that motion or signal passes through one after the other, so without the supply and without interactions. */
  readonly line: readonly number[]
  readonly added?: AddedInteraction
}

/**
 * Adds an interaction after two or more mechanical links where the caller names none. Without it the search blames the part that breaks, even when
 * the cause is how the parts meet. Its share of all weights is its share of the default weights.
 */
function withInteraction(given: readonly LinkGiven[]): readonly LinkGiven[] {
  const mechanical = given.filter(({ kind }) => !ELECTRONIC.has(kind))
  if (mechanical.length < 2 || given.some(({ kind }) => kind === 'interaction')) return given
  const names = given.map(nameOf)
  let name = 'interaction'
  while (names.includes(name)) name += ' of all'
  const byDefault = given.reduce((sum, { kind }) => sum + PRIOR_WEIGHTS[kind], 0)
  const prior = (PRIOR_WEIGHTS.interaction * weightOf(given)) / byDefault
  return [...given, { kind: 'interaction', name, prior, between: mechanical.map(nameOf) }]
}

const nameOf = ({ name, kind }: LinkGiven): string => name ?? kind

const weightOf = (links: readonly LinkGiven[]): number =>
  links.reduce((sum, { prior, kind }) => sum + (prior ?? PRIOR_WEIGHTS[kind]), 0)

/**
 * A chain of links with the probability of each that it is the one at fault.
 *
 *     P(i) = weightᵢ / Σ weights
 *
 * Where the caller names no interaction, two or more mechanical links get one: between two neighbors, or among all of them. An interaction with the
 * prior 0 leaves it out.
 *
 * @param named - Links from wheel to dial, 1 to 20
 * @returns Links with names and probabilities
 * @throws {DomainError} `link-repeated`, `link-unknown`, `priors-all-zero`
 * @see default weights are common practice, no source
 * @example chainOf([{ kind: 'sensor' }, { kind: 'display', prior: 1 }]).links[0].prior // 0.75 ± 1e-12
 * @example chainOf([{ kind: 'cable' }, { kind: 'head' }]).links[2].prior // 0.2222222 ± 1e-7
 * @example chainOf([{ kind: 'wiring' }, { kind: 'wiring' }]) // throws link-repeated
 */
export function chainOf(named: readonly LinkGiven[]): Chain {
  const given = withInteraction(named)
  const names = given.map(nameOf)
  for (const [i, name] of names.entries()) {
    if (names.indexOf(name) < i) {
      throw new DomainError(
        'link-repeated',
        `chain: two links are called "${name}"; give each its own name`,
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
    added: { link: named.length, places: all.length > 2 ? [...neighbors, all] : neighbors },
  }
}

/**
 * Position of a link by its name.
 *
 *     i with nameᵢ = name
 *
 * @param names - Names of the links
 * @param name - Name to find
 * @param pointer - Where the request holds the name, for the error
 * @returns Position
 * @throws {DomainError} `link-unknown`
 * @see names come from the caller
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
