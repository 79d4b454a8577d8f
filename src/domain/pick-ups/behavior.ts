import { digits } from '../measure/digits.js'
import type { Note } from '../measure/notes.js'
import type { PickUpOption, SignalOption } from './options.js'
import type { Signal } from './signal.js'

export interface WhereItWorks {
  readonly works: boolean
  readonly text: string
}

export interface DistanceRecord {
  readonly continues: boolean
  readonly text: string
}

interface Behavior {
  readonly tunnels: WhereItWorks
  readonly start: WhereItWorks
  readonly odometer: DistanceRecord
  readonly risks: readonly Note[]
}

const RISKS: Readonly<Record<SignalOption['kind'], readonly Note[]>> = {
  'shaft-ring': [
    {
      code: 'one-wheel-in-bends',
      level: 'info',
      text: 'A ring on one axle shaft reads the path of its own wheel: more in a bend on the outer side, less on the inner one; a locked or spinning wheel reads wrong. Rings on both shafts give the mean.',
    },
    {
      code: 'ring-near-brake',
      level: 'caution',
      text: 'Ring, sensor and lead work beside brake, heat, water and stones: keep clear of brake lines, secure every fastener, and leave room for the travel of the suspension.',
    },
  ],
  'propeller-shaft': [
    {
      code: 'one-wheel-raised',
      level: 'info',
      text: 'With one wheel raised and an open differential the shaft turns half as much per turn of that wheel: a test on a stand reads half.',
    },
    {
      code: 'shaft-balance',
      level: 'caution',
      text: 'A ring clamped on the propeller shaft must be balanced and locked: at speed a loose one is thrown out and an unbalanced one shakes the shaft.',
    },
  ],
  gearbox: [
    {
      code: 'one-wheel-raised',
      level: 'info',
      text: 'With one wheel raised and an open differential the drive turns half as much per turn of that wheel: a test on a stand reads half.',
    },
    {
      code: 'gear-sets-ratio',
      level: 'info',
      text: 'The reading rests on the driven gear in the gearbox: count its teeth before relying on the ratio, and seal the outlet against oil.',
    },
  ],
  'magnetic-sensor': [
    {
      code: 'weak-at-low-speed',
      level: 'caution',
      text: 'The amplitude falls with speed: near the lowest speed pulses go missing and the display under-reads. Air gap and threshold decide where.',
    },
    {
      code: 'high-voltage-at-speed',
      level: 'info',
      text: 'At high speed such a sensor gives many volts: clamp the input.',
    },
  ],
  satellite: [
    {
      code: 'no-reading-without-sky',
      level: 'caution',
      text: 'There is no reading in tunnels and under roofs, and until the first fix; a display that holds the last speed shows a false one. Blank it instead.',
    },
    {
      code: 'satellite-may-under-read',
      level: 'caution',
      text: 'It takes the horizontal speed, so it under-reads on slopes, and lags when the speed changes; a speedometer that under-reads is unlawful in many places. Rules may not admit it as the only speedometer.',
    },
  ],
}

const MOTOR_RISKS: readonly Note[] = [
  {
    code: 'motor-may-run-on',
    level: 'caution',
    text: 'A motor goes on turning the head when its controller hangs or the signal is lost: have it stop by itself within a second.',
  },
  {
    code: 'hand-of-rotation',
    level: 'info',
    text: 'Heads and flexible shafts turn in one hand only: check the direction of the motor before coupling it.',
  },
]

function startOf(signal: Signal): WhereItWorks {
  if (signal.firstReadingM !== undefined) {
    return {
      works: true,
      text: `Reads after at most two pulses, ${digits(signal.firstReadingM.value, 3)} m from standstill; reads nothing below ${digits(3.6 * signal.lowestMPerS.value, 3)} km/h.`,
    }
  }
  return {
    works: false,
    text: `Nothing until the first fix: about ${signal.coldStartS} s after a long stop, ${signal.warmStartS} s after a short one; the car may be moving by then.`,
  }
}

function recordOf(option: PickUpOption): DistanceRecord {
  if (option.kind === 'driven-head') {
    return {
      continues: true,
      text: 'The old head goes on counting; it misses what is driven below the lowest speed and while the signal is lost.',
    }
  }
  if (option.oldDriveStays === true) {
    return { continues: true, text: 'The old drive goes on turning the old head, which goes on counting.' }
  }
  return {
    continues: false,
    text: 'The old head stops counting. Note its reading and the date, keep the head with the car, and let the new display count on its own; changing an odometer is restricted by law (for instance 49 USC 32703-32704), so record the change.',
  }
}

/**
 * What a pick-up does where arithmetic ends: in tunnels, at the start, to the odometer, and what can go wrong.
 *
 *     works in tunnels ⇔ the signal comes from the car itself
 *
 * @param option - The pick-up
 * @param signal - What it delivers on this car
 * @returns Statements for people, each with a flag for programs
 * @see common practice, no source; 49 USC 32703-32704 (odometers)
 * @example behaviorOf({ kind: 'satellite', rateHz: 5 }, { worksInTunnels: false, coldStartS: 45, warmStartS: 3 }).tunnels.works // false
 */
export function behaviorOf(option: PickUpOption, signal: Signal): Behavior {
  const source = option.kind === 'driven-head' ? option.signal : option
  return {
    tunnels: signal.worksInTunnels
      ? { works: true, text: 'Not affected.' }
      : {
          works: false,
          text: 'No reading in tunnels, under roofs and in garages; worse between tall buildings and under trees.',
        },
    start: startOf(signal),
    odometer: recordOf(option),
    risks: option.kind === 'driven-head' ? [...RISKS[source.kind], ...MOTOR_RISKS] : RISKS[source.kind],
  }
}
