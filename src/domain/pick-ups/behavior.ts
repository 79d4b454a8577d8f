import { digits } from '../measure/digits.js'
import { cautionNote, infoNote, type Note } from '../measure/notes.js'
import type { PickUpOption, SignalOption } from './options.js'
import type { Signal } from './signal.js'

export interface WhereItWorks {
  readonly works: boolean
  readonly text: string
}

export interface OdometerBehavior {
  readonly continues: boolean
  readonly text: string
}

interface Behavior {
  readonly tunnels: WhereItWorks
  readonly start: WhereItWorks
  readonly odometer: OdometerBehavior
  readonly risks: readonly Note[]
}

const RISKS: Readonly<Record<SignalOption['kind'], readonly Note[]>> = {
  'shaft-ring': [
    infoNote(
      'one-wheel-in-bends',
      'A ring on one axle shaft measures the path of its own wheel: it over-reads on the outer side of a bend and under-reads on the inner side; a locked or spinning wheel gives a false reading. Rings on both shafts give the mean.',
    ),
    cautionNote(
      'ring-near-brake',
      'Ring, sensor and lead are exposed to brakes, heat, water and stones: keep clear of brake lines, secure every fastener, and leave room for suspension travel.',
    ),
  ],
  'propeller-shaft': [
    infoNote(
      'one-wheel-raised',
      'With one wheel raised and an open differential, the shaft turns half as much per turn of that wheel: a test on axle stands reads half.',
    ),
    cautionNote(
      'shaft-balance',
      'A ring clamped on the propeller shaft must be balanced and secured: at speed a loose one flies off and an unbalanced one makes the shaft vibrate.',
    ),
  ],
  gearbox: [
    infoNote(
      'one-wheel-raised',
      'With one wheel raised and an open differential, the drive turns half as much per turn of that wheel: a test on axle stands reads half.',
    ),
    infoNote(
      'gear-sets-ratio',
      'The reading depends on the driven gear in the gearbox: count its teeth before you rely on the ratio, and seal the drive against oil.',
    ),
  ],
  'magnetic-sensor': [
    cautionNote(
      'weak-at-low-speed',
      'The amplitude falls with speed: near the lowest speed pulses are missed and the display under-reads. Air gap and threshold determine where.',
    ),
    infoNote('high-voltage-at-speed', 'At high speed this sensor produces many volts: clamp the input.'),
  ],
  satellite: [
    cautionNote(
      'no-reading-without-sky',
      'There is no reading in tunnels, under roofs, or before the first fix; a display that holds the last speed is wrong. Blank it instead.',
    ),
    cautionNote(
      'satellite-may-under-read',
      'It measures horizontal speed, so it under-reads on slopes, and it lags when the speed changes; a speedometer that under-reads is unlawful in many places. Rules may not allow it as the only speedometer.',
    ),
  ],
}

const MOTOR_RISKS: readonly Note[] = [
  cautionNote(
    'motor-may-run-on',
    'A motor keeps turning the head if its controller hangs or the signal is lost: make it stop by itself within a second.',
  ),
  infoNote(
    'hand-of-rotation',
    'Heads and flexible shafts work in one direction of rotation only: check the direction of the motor before you couple it.',
  ),
]

function startOf(signal: Signal): WhereItWorks {
  if (signal.firstReadingM !== undefined) {
    return {
      works: true,
      text: `Reads after at most two pulses, ${digits(signal.firstReadingM.value, 3)} m from standstill; no reading below ${digits(3.6 * signal.lowestSpeedMPerS.value, 3)} km/h.`,
    }
  }
  return {
    works: false,
    text: `No reading before the first fix: about ${signal.coldStartS} s after a long stop, ${signal.warmStartS} s after a short one; the car may be moving by then.`,
  }
}

function odometerOf(option: PickUpOption): OdometerBehavior {
  if (option.kind === 'driven-head') {
    return {
      continues: true,
      text: 'The old odometer keeps counting; it misses distance below the lowest speed and during loss of signal.',
    }
  }
  if (option.oldDriveStays === true) {
    return {
      continues: true,
      text: 'The old drive keeps turning the old head, and its odometer keeps counting.',
    }
  }
  return {
    continues: false,
    text: 'The old odometer stops counting. Note its reading and the date, keep the head with the car, and let the new display count separately; changing an odometer is restricted by law (for instance 49 USC 32703-32704), so record the change.',
  }
}

/**
 * Behavior of a pick-up beyond the figures: in tunnels, at the start, for the odometer, and failure modes.
 *
 *     works in tunnels ⇔ the signal comes from the car itself
 *
 * @param option - The pick-up
 * @param signal - Its signal on this car
 * @returns Texts for people, each with a flag for programs
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
    odometer: odometerOf(option),
    risks: option.kind === 'driven-head' ? [...RISKS[source.kind], ...MOTOR_RISKS] : RISKS[source.kind],
  }
}
