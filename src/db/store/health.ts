/** State of the storage; values that do not apply (to a store in memory) are left out. */
export interface StoreFigures {
  readonly schemaVersion: number
  /** The version that this program needs. */
  readonly expectedSchemaVersion: number
  readonly databaseBytes?: number
  /** Size of the write-ahead log. */
  readonly walBytes?: number
  readonly diskFreeBytes?: number
  /** End of the last verified backup. */
  readonly backedUpAtMs?: number
}

/** For monitoring. */
export interface HealthStore {
  /** Reads a row. */
  read(): Promise<void>
  /** Writes a row; resolves when it is on the disk. */
  write(): Promise<void>
  figures(): Promise<StoreFigures>
}
