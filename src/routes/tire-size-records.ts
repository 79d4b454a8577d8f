import { decoder } from '../codec/decoder.js'
import type { TireSizeInput as StoredInput, TireSizeStore } from '../db/store.js'
import { recordedSize, tabulatedSize } from '../domain/tires/recorded-size.js'
import { builtInSizes, type SizeTable, type TabulatedSize } from '../domain/tires/size-table.js'
import { TireSizeInput, type TireSizeShape } from '../schemas/tire-sizes.js'

const rowOf = decoder(TireSizeInput)

/**
 * A row for the store, with the designation of its size as the key.
 *
 * @throws {DomainError} those of `recordedSize`
 */
export function tireSizeInput(given: TireSizeShape): StoredInput {
  const { designation, overallDiameterM, sectionWidthM } = recordedSize(rowOf(given))
  return {
    designation,
    overallDiameterM: overallDiameterM.value,
    ...(sectionWidthM === undefined ? {} : { sectionWidthM }),
    content: JSON.stringify(given),
  }
}

const tabulated = ({ designation, content }: StoredInput): TabulatedSize =>
  tabulatedSize(designation, rowOf(JSON.parse(content)))

/** The table for every tire computation: the built-in rows first, then the stored ones. */
export class SizeTables {
  private readonly store: TireSizeStore
  private rows: ReadonlyMap<string, TabulatedSize> = new Map()
  private revision: number | undefined

  constructor(store: TireSizeStore) {
    this.store = store
  }

  /** Reads the stored rows into memory if any has changed. */
  async refresh(): Promise<void> {
    // Read before the rows: the next refresh finds any change in between.
    const revision = await this.store.revision()
    if (revision === this.revision) return
    const figures = await this.store.figures()
    this.rows = new Map(figures.map(tabulated).map((row) => [row.designation, row]))
    this.revision = revision
  }

  readonly find: SizeTable = (designation) => builtInSizes(designation) ?? this.rows.get(designation)
}
