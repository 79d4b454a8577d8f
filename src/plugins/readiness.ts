import type { Clock, HealthStore } from '../db/store.js'

/** Timeout of a check, after which it has failed. */
const CHECK_TIMEOUT_MS = 1_000

/** Shortest time between two test writes: frequent requests must not wear the disk. */
const WRITE_EVERY_MS = 5_000

/** Minimum free space: with less, the next burst of writes may fill the disk. */
const MIN_FREE_BYTES = 64 * 2 ** 20

/** Maximum size of the write-ahead log: it shrinks to 16 MiB by itself unless a reader never ends. */
const MAX_WAL_BYTES = 512 * 2 ** 20

export interface Check {
  readonly name: 'read' | 'write' | 'disk' | 'wal' | 'schema' | 'open'
  readonly ok: boolean
  readonly detail: string
}

type Found = Omit<Check, 'name'>

const TOO_SLOW = `did not end within ${CHECK_TIMEOUT_MS} ms`

/** Stops waiting for work that takes too long; the work itself goes on. */
async function withTimeout<T>(work: Promise<T>): Promise<T | typeof TOO_SLOW> {
  let timer: NodeJS.Timeout | undefined
  const late = new Promise<typeof TOO_SLOW>((resolve) => {
    timer = setTimeout(resolve, CHECK_TIMEOUT_MS, TOO_SLOW)
  })
  try {
    return await Promise.race([work, late])
  } finally {
    clearTimeout(timer)
  }
}

/** The result of a check. The error itself is not shown: it may contain paths, and this response is public. */
async function whether(work: Promise<void>, done: string): Promise<Found> {
  try {
    return (await withTimeout(work)) === TOO_SLOW
      ? { ok: false, detail: TOO_SLOW }
      : { ok: true, detail: done }
  } catch {
    return { ok: false, detail: 'the store refuses' }
  }
}

const mebibytes = (bytes: number) => `${bytes / 2 ** 20} MiB`

/** The readiness checks: whether the service can do its work now. Takes little longer than CHECK_TIMEOUT_MS at most. */
export class Readiness {
  private readonly health: HealthStore
  private readonly clock: Clock
  private isDraining = false
  private lastWrite: { readonly atMs: number; readonly found: Promise<Found> } | undefined

  constructor(health: HealthStore, clock: Clock) {
    this.health = health
    this.clock = clock
  }

  /** Not ready from now on, since the service is about to stop. */
  startDraining(): void {
    this.isDraining = true
  }

  async checks(): Promise<readonly Check[]> {
    const [read, write, figures] = await Promise.all([
      whether(this.health.read(), 'a row was read'),
      this.write(),
      this.figures(),
    ])
    const open = this.isDraining
      ? { ok: false, detail: 'the service is stopping' }
      : { ok: true, detail: 'requests are taken' }
    return [{ name: 'open', ...open }, { name: 'read', ...read }, { name: 'write', ...write }, ...figures]
  }

  private write(): Promise<Found> {
    const nowMs = this.clock()
    // Absolute difference: the check must go on after the clock was set back.
    const fresh = this.lastWrite !== undefined && Math.abs(nowMs - this.lastWrite.atMs) < WRITE_EVERY_MS
    if (this.lastWrite === undefined || !fresh) {
      const found = whether(
        this.health.write(),
        `a row was written within the last ${WRITE_EVERY_MS / 1000} s`,
      )
      this.lastWrite = { atMs: nowMs, found }
    }
    return this.lastWrite.found
  }

  private async figures(): Promise<readonly Check[]> {
    const names = ['disk', 'wal', 'schema'] as const
    let figures: Awaited<ReturnType<HealthStore['figures']>> | typeof TOO_SLOW
    try {
      figures = await withTimeout(this.health.figures())
    } catch {
      return names.map((name) => ({ name, ok: false, detail: 'cannot be looked at' }))
    }
    if (figures === TOO_SLOW) return names.map((name) => ({ name, ok: false, detail: TOO_SLOW }))
    const { diskFreeBytes, walBytes, schemaVersion, expectedSchemaVersion } = figures
    const minFree = mebibytes(MIN_FREE_BYTES)
    const maxWal = mebibytes(MAX_WAL_BYTES)
    const disk = diskFreeBytes === undefined || diskFreeBytes >= MIN_FREE_BYTES
    const wal = walBytes === undefined || walBytes <= MAX_WAL_BYTES
    const schema = schemaVersion === expectedSchemaVersion
    return [
      { name: 'disk', ok: disk, detail: `${disk ? 'at least' : 'less than'} ${minFree} are free` },
      { name: 'wal', ok: wal, detail: `${wal ? 'at most' : 'more than'} ${maxWal} wait to be written back` },
      {
        name: 'schema',
        ok: schema,
        detail: schema
          ? `version ${schemaVersion}`
          : `version ${schemaVersion}, where this program works with ${expectedSchemaVersion}`,
      },
    ]
  }
}
