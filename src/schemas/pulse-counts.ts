import { count } from './plain-values.js'

export const pulsesPerTurn = () =>
  count({ minimum: 1, maximum: 1000, description: 'Pulses that the ring gives in one turn.' })

/** Number of pulses, turns or updates in an answer. */
export const eventCount = (description: string) =>
  count({ minimum: 0, maximum: Number.MAX_SAFE_INTEGER, description })
