import type { Figure, Reading } from '../domain/measure/figure.js'
import type { DIMENSIONS, DimensionName } from '../domain/measure/units.js'
import type { QUANTITY_TYPE, Quantity, QuantityUse } from '../schemas/measure-shapes.js'

/** A quantity in a result: computed with its uncertainty, stated with one, or exact. */
export type Estimate = Figure | { readonly value: number; readonly plusMinus: number } | number

/** A quantity in a result with its smallest and largest value. */
export interface Range {
  readonly estimate: Estimate
  readonly min: number
  readonly max: number
}

interface ValueOf extends Record<QuantityUse, unknown> {
  readonly estimate: Reading
  readonly set: number
  readonly answer: Estimate
  readonly range: Range
}

type Suffix<D> = D extends DimensionName ? (typeof DIMENSIONS)[D]['suffix'] : ''

/** What the type of a wire value says of its quantity; never for all else. */
type QuantityIn<V> =
  Extract<V, object> extends infer O
    ? typeof QUANTITY_TYPE extends keyof O
      ? NonNullable<O[typeof QUANTITY_TYPE]>
      : never
    : never

type ItemOf<V> = NonNullable<V> extends ReadonlyArray<infer I> ? I : NonNullable<V>

type SiKey<K, V> = [QuantityIn<ItemOf<V>>] extends [Quantity<infer D>]
  ? [QuantityIn<ItemOf<V>>] extends [never]
    ? K
    : `${K & string}${Suffix<D>}`
  : K

type SiShape<V> =
  V extends ReadonlyArray<infer I>
    ? ReadonlyArray<Si<I>>
    : V extends object
      ? { readonly [K in keyof V as SiKey<K, V[K]>]: Si<V[K]> }
      : V

/**
 * A wire value inside the service: every quantity is in SI, and its field says the unit, `riseTime: { us: 0.3 }` on the wire,
 * `riseTimeS: Figure` inside.
 */
export type Si<V> = [QuantityIn<V>] extends [never]
  ? SiShape<V>
  : QuantityIn<V> extends Quantity<infer _, infer U>
    ? ValueOf[U] | Extract<V, undefined>
    : never

type KeysOf<T> = T extends unknown ? keyof T : never
type ValueAt<T, K> = T extends unknown ? (K extends keyof T ? NonNullable<T[K]> : never) : never

/**
 * Paths of the fields of A that B does not declare; never where there are none. An optional field that is renamed on one side only
 * would otherwise pass the type check, and be lost.
 */
export type Undeclared<A, B, Path extends string = ''> =
  A extends ReadonlyArray<infer I>
    ? B extends ReadonlyArray<infer J>
      ? Undeclared<I, J, `${Path}/*`>
      : never
    : A extends Estimate | string | boolean | null | undefined
      ? never
      : A extends object
        ? {
            [K in keyof A & string]: K extends KeysOf<B>
              ? Undeclared<NonNullable<A[K]>, ValueAt<B, K>, `${Path}/${K}`>
              : `${Path}/${K}`
          }[keyof A & string]
        : never
