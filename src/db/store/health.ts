/** What is known of the place where things are kept; what does not apply to it (a store in memory) is left out. */
export interface StoreFigures {
  readonly schemaVersion: number
  /** The version that this program works with. */
  readonly expectedSchemaVersion: number
  readonly databaseBytes?: number
  /** What was written lately and stands beside the file. */
  readonly walBytes?: number
  readonly diskFreeBytes?: number
  /** End of the last verified backup. */
  readonly backedUpAtMs?: number
}

/** What is asked by whoever watches the service. */
export interface HealthStore {
  /** Reads a row. */
  read(): Promise<void>
  /** Writes a row; resolves when it is on the disk. */
  write(): Promise<void>
  figures(): Promise<StoreFigures>
}
