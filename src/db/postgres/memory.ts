import type { Memory, MemoryRules, Unit } from '../units/session.js'
import { isAway } from './failures.js'

interface Remembered<T> {
  readonly value: T
  readonly readAtMs: number
  readonly atWrite: number
}

/** Values that are read again when they are old: the server does not report at once what other processes change. */
export function memory<T>(rules: MemoryRules<T>, writes: () => number): Memory<T> {
  const values = new Map<string, Remembered<T>>()

  function* readOrFallBack(read: () => Unit<T>, known: Remembered<T> | undefined): Unit<T> {
    try {
      return yield* read()
    } catch (error) {
      const value = known?.value ?? rules.whileAway
      if (value === undefined || !isAway(error)) throw error
      return value
    }
  }

  return {
    *get(key, read) {
      if (rules.maxAgeMs === 0) return yield* read()
      const known = values.get(key)
      const readAtMs = performance.now()
      const atWrite = rules.isClearedByOwnWrites ? writes() : 0
      if (known !== undefined && known.atWrite === atWrite && readAtMs - known.readAtMs < rules.maxAgeMs)
        return known.value
      const value = yield* readOrFallBack(read, known)
      if (values.size >= rules.max) values.clear()
      values.set(key, { value, readAtMs, atWrite })
      return value
    },
    clear: () => values.clear(),
  }
}
