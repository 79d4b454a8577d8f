/** A line of a plot: points in the unit that it names, x ascending. */
export interface Series {
  readonly name: string
  readonly unit: string
  readonly points: readonly (readonly [number, number])[]
}
