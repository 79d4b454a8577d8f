import { resolved } from '../src/reference/references.js'
import { randomFrom } from './random.js'

/** A schema of the contract; only the keywords used here. */
export interface Schema {
  readonly $ref?: string
  readonly type?: string
  readonly anyOf?: readonly Schema[]
  readonly enum?: readonly unknown[]
  readonly properties?: Readonly<Record<string, Schema>>
  readonly required?: readonly string[]
  readonly items?: Schema
  readonly minItems?: number
  readonly maxItems?: number
  readonly uniqueItems?: boolean
  readonly minimum?: number
  readonly maximum?: number
  readonly maxLength?: number
  readonly examples?: readonly unknown[]
}

/** Outcome of a request: status of the answer, and work. */
export interface Outcome {
  readonly status: number
  readonly work: number
}

/** A request with its outcome. */
export interface Tried extends Outcome {
  readonly body: unknown
}

export interface Climbed {
  /** Most expensive request that was answered. */
  readonly valid: Tried | undefined
  /** Most expensive request that was refused. */
  readonly invalid: Tried | undefined
  readonly asked: number
}

interface Place {
  readonly path: readonly (string | number)[]
  readonly schema: Schema
  readonly value: unknown
}

/** Number of items of a long list that are varied, the first ones: the others have the same schema. */
const ITEMS = 3

/** Maximum length of a body [bytes]: the default limit of the service. */
const MAX_BYTES = 1_000_000

/** Hill climb over the bodies that a schema admits, towards the most work. The same seed tries the same bodies. */
export class Climb {
  private readonly document: { readonly components: object }
  private readonly uniform: () => number

  constructor(document: { readonly components: object }, start: number) {
    this.document = document
    this.uniform = randomFrom(start).uniform
  }

  /**
   * The most expensive bodies found for one schema.
   *
   * @param schema - Schema of the body
   * @param examples - Bodies to start from
   * @param steps - Bodies to try besides the examples and the pairs of maxima
   * @param pairs - Maximum number of pairs of maxima to try
   * @param ask - Sends a body
   */
  async climb(
    schema: Schema,
    examples: readonly unknown[],
    steps: number,
    pairs: number,
    ask: (body: unknown) => Promise<Outcome>,
  ): Promise<Climbed> {
    let [valid, invalid]: [Tried | undefined, Tried | undefined] = [undefined, undefined]
    let asked = 0
    const look = async (body: unknown): Promise<Tried> => {
      asked++
      const tried = { body, ...(await ask(body)) }
      if (tried.status < 400) {
        if (valid === undefined || tried.work > valid.work) valid = tried
      } else if (invalid === undefined || tried.work > invalid.work) invalid = tried
      return tried
    }
    for (const example of examples) await look(example)
    for (const body of this.pairsOfMaxima(schema, examples[0], pairs)) await look(body)
    const starts = [...examples, this.make(schema, true), this.make(schema, true)]
    // A quarter of the steps varies the most expensive refused body.
    for (const [isWanted, share] of [
      [(status: number) => status < 400, 0.75],
      [(status: number) => status >= 400, 0.25],
    ] as const) {
      let top: Tried | undefined = isWanted(200) ? valid : invalid
      let idle = 0
      for (let step = 0; step < steps * share; step++) {
        if (top === undefined || idle > 40) {
          top = { body: starts[this.below(starts.length)], status: 0, work: 0 }
          idle = 0
        }
        let body = top.body
        for (let change = this.below(3); change >= 0; change--) body = this.changed(schema, body)
        if (JSON.stringify(body).length > MAX_BYTES) continue
        const next = await look(body)
        if (isWanted(next.status) && next.work > top.work) {
          top = next
          idle = 0
        } else idle++
      }
    }
    return { valid, invalid, asked }
  }

  private below(count: number): number {
    return Math.floor(this.uniform() * count)
  }

  /** The branch of a union that a value matches. */
  private branch(given: Schema, value: unknown): Schema {
    const schema = resolved(this.document, given)
    if (schema.anyOf === undefined) return schema
    const found = schema.anyOf.find((one) => this.follows(one, value)) ?? schema.anyOf[0]!
    return this.branch(found, value)
  }

  private follows(given: Schema, value: unknown): boolean {
    const schema = resolved(this.document, given)
    if (schema.anyOf !== undefined) return schema.anyOf.some((one) => this.follows(one, value))
    if (schema.enum !== undefined) return schema.enum.includes(value)
    if (Array.isArray(value)) return schema.type === 'array'
    if (typeof value !== 'object' || value === null)
      return schema.type === typeof value || (schema.type === 'integer' && Number.isInteger(value))
    const { properties = {}, required = [] } = schema
    return (
      schema.type === 'object' &&
      required.every((key) => key in value) &&
      Object.entries(value).every(
        ([key, inner]) => key in properties && this.follows(properties[key]!, inner),
      )
    )
  }

  private places(schema: Schema, value: unknown, path: readonly (string | number)[] = []): Place[] {
    const own = { path, schema, value }
    const { items, properties } = this.branch(schema, value)
    if (Array.isArray(value) && items !== undefined)
      return [own, ...value.slice(0, ITEMS).flatMap((item, i) => this.places(items, item, [...path, i]))]
    if (typeof value !== 'object' || value === null || properties === undefined) return [own]
    return [
      own,
      ...Object.entries(value).flatMap(([key, inner]) =>
        properties[key] === undefined ? [] : this.places(properties[key], inner, [...path, key]),
      ),
    ]
  }

  /** Bodies with each pair of numbers and list lengths at the maximum; then with all at the maximum. */
  private *pairsOfMaxima(schema: Schema, body: unknown, most: number): Generator<unknown> {
    if (body === undefined) return
    const places = this.places(schema, body).filter(
      ({ value }) => typeof value === 'number' || Array.isArray(value),
    )
    const atMost = (from: unknown, place: Place) => replaced(from, place.path, () => this.largest(place))
    const all = places.flatMap((one, i) => places.slice(i).map((other) => [one, other] as const))
    const stride = Math.max(1, Math.ceil(all.length / most))
    for (let i = 0; i < all.length; i += stride) {
      const [one, other] = all[i]!
      // The inner place first, since lengthening a list repeats its items.
      const [outer, inner] = one.path.length < other.path.length ? [one, other] : [other, one]
      const changed = atMost(body, inner)
      const list = valueAt(changed, outer.path)
      yield outer === inner
        ? changed
        : replaced(changed, outer.path, () => this.largest({ ...outer, value: list }))
    }
    let whole: unknown = body
    for (const place of places.toReversed())
      whole = replaced(whole, place.path, (value) => this.largest({ ...place, value }))
    yield whole
  }

  private largest({ schema, value }: Place): unknown {
    const { maximum, maxItems } = this.branch(schema, value)
    return Array.isArray(value)
      ? this.lengthened(schema, value, maxItems ?? value.length)
      : (maximum ?? value)
  }

  /** A longer list: its items repeated, with other values where items must be unique. */
  private lengthened(given: Schema, value: readonly unknown[], length: number): unknown[] {
    const { items, uniqueItems, minItems = 0 } = this.branch(given, value)
    const own = value.length > 0 ? value : [this.make(items!, false)]
    const fits = Math.floor(MAX_BYTES / 2 / (1 + JSON.stringify(own).length / own.length))
    const wanted = Math.max(minItems, Math.min(length, fits))
    if (uniqueItems !== true) return Array.from({ length: wanted }, (_, i) => own[i % own.length])
    const all = new Map(value.map((item) => [JSON.stringify(item), item]))
    for (let tries = 0; all.size < wanted && tries < 4 * wanted; tries++) {
      const item = this.make(items!, false)
      all.set(JSON.stringify(item), item)
    }
    return [...all.values()].slice(0, wanted)
  }

  /** A value that a schema admits; on request with the largest numbers and the longest lists. */
  private make(given: Schema, large: boolean, depth = 0): unknown {
    const schema = resolved(this.document, given)
    if (schema.anyOf !== undefined)
      return this.make(schema.anyOf[this.below(schema.anyOf.length)]!, large, depth)
    if (schema.enum !== undefined) return schema.enum[this.below(schema.enum.length)]
    switch (schema.type) {
      case 'object': {
        const { properties = {}, required = [] } = schema
        const keys = Object.keys(properties).filter((key) => required.includes(key) || this.uniform() < 0.4)
        return Object.fromEntries(keys.map((key) => [key, this.make(properties[key]!, large, depth + 1)]))
      }
      case 'array': {
        const few = Array.from({ length: Math.max(1, schema.minItems ?? 0) }, () =>
          this.make(schema.items!, large, depth + 1),
        )
        return large ? this.lengthened(schema, few, Math.min(schema.maxItems ?? 1, depth > 2 ? 5 : 200)) : few
      }
      case 'number':
      case 'integer':
        return large ? (schema.maximum ?? 1e6) : this.number(schema)
      case 'boolean':
        return this.uniform() < 0.5
      default:
        return schema.examples?.[this.below(schema.examples.length)] ?? 'x'
    }
  }

  /** A number within the bounds, of random magnitude. */
  private number({ type, minimum = -1e6, maximum = 1e6 }: Schema): number {
    const kind = this.uniform()
    const smallest = Math.max(minimum, maximum * 1e-9, 1e-9)
    const number =
      kind < 0.15
        ? minimum
        : kind < 0.3
          ? maximum
          : kind < 0.7 && maximum > smallest
            ? smallest * (maximum / smallest) ** this.uniform()
            : minimum + this.uniform() * (maximum - minimum)
    return type === 'integer' ? Math.round(number) : number
  }

  /** A body with another value in one place. */
  private changed(schema: Schema, body: unknown): unknown {
    const places = this.places(schema, body)
    const place = places[this.below(places.length)]!
    return replaced(body, place.path, (value) => this.other(place.schema, value))
  }

  private other(given: Schema, value: unknown): unknown {
    const kind = this.uniform()
    if (kind < 0.1) return this.make(given, kind < 0.05)
    const schema = this.branch(given, value)
    if (Array.isArray(value)) {
      if (kind < 0.4) return this.lengthened(schema, value, schema.maxItems ?? value.length)
      if (kind < 0.6)
        return this.lengthened(schema, value, Math.min(schema.maxItems ?? 8, 2 * value.length + 1))
      if (kind < 0.8) {
        const [one] = value
        const fresh = this.make(schema.items!, false)
        return schema.uniqueItems === true
          ? [...value.slice(1), fresh]
          : value.map((_, i) => (i % 2 ? one : fresh))
      }
      return Array.from(value, () => this.make(schema.items!, false))
    }
    if (typeof value === 'object' && value !== null) {
      const { properties = {}, required = [] } = schema
      const optional = Object.keys(properties).filter((key) => !required.includes(key))
      const key = optional[this.below(optional.length)]
      if (key === undefined) return value
      const { [key]: had, ...rest } = value as Record<string, unknown>
      return had === undefined ? { ...value, [key]: this.make(properties[key]!, kind < 0.5) } : rest
    }
    if (typeof value === 'number' && schema.enum === undefined) {
      if (kind < 0.5) return this.number(schema)
      const { type, minimum = -1e6, maximum = 1e6 } = schema
      const near = value * (kind < 0.75 ? 1 + 0.2 * (this.uniform() - 0.5) : 2 ** (4 * this.uniform() - 2))
      return Math.min(maximum, Math.max(minimum, type === 'integer' ? Math.round(near) : near))
    }
    return this.make(schema, false)
  }
}

function valueAt(value: unknown, path: readonly (string | number)[]): unknown {
  return path.reduce((inner, key) => (inner as Record<string | number, unknown>)[key], value)
}

function replaced(
  value: unknown,
  [key, ...rest]: readonly (string | number)[],
  change: (value: unknown) => unknown,
): unknown {
  if (key === undefined) return change(value)
  if (Array.isArray(value)) return value.with(Number(key), replaced(value[Number(key)], rest, change))
  const object = value as Record<string, unknown>
  return { ...object, [key]: replaced(object[key], rest, change) }
}
