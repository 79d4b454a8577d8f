import {
  figureOut,
  figureSi,
  lengthOut,
  perDistanceOut,
  speedOut,
  timeOut,
  valueSi,
} from '../codec/measures.js'
import { pathOutput } from '../domain/drive-paths/path.js'
import { DomainError } from '../domain/errors.js'
import { type Figure, plusMinus } from '../domain/measure/figure.js'
import type { Note } from '../domain/measure/notes.js'
import type { SourceId } from '../domain/measure/sources.js'
import { type Firmware, type FirmwareInput, firmware, type SpeedConstant } from '../domain/pulses/firmware.js'
import type { SizeTable } from '../domain/tires/size-table.js'
import type { FirmwareBody, FirmwareShape } from '../schemas/firmware.js'
import { stageOf } from './drive-paths.js'
import { provenance } from './provenance.js'
import { geometryAt } from './tires.js'

/** Pulses per distance with their sources and notes. */
export interface PulseSupply {
  readonly pulsesPerM: Figure
  readonly sources: readonly SourceId[]
  readonly notes: readonly Note[]
}

/** Below this, rounding of a whole constant may exceed 0.05 %. */
const COARSE = 1000

function supplyOf(request: FirmwareBody, table: SizeTable): PulseSupply {
  if ('pulses' in request) {
    return {
      pulsesPerM: figureSi('perDistance', request.pulses, 'pulses per distance'),
      sources: ['caller-reading'],
      notes: [],
    }
  }
  const geometry = geometryAt('/tire', request.tire, table)
  const path = pathOutput(geometry.turnsPerM, request.stages.map(stageOf))
  if (path.signal === 'turns') {
    throw new DomainError(
      'path-order',
      'stages: there is no pulse-ring, so the path carries no pulses; add one',
      {
        pointer: '/stages',
      },
    )
  }
  return { pulsesPerM: path.outputPerM, sources: [...geometry.sources, 'eu-165-2014'], notes: geometry.notes }
}

type Timer = Omit<Extract<FirmwareBody, { pulses: unknown }>, 'pulses'>

/** Domain input from timer, widths and steps of the wire. */
export function firmwareInput(pulsesPerM: Figure, timer: Timer): FirmwareInput {
  const input = {
    pulsesPerM,
    tickS: valueSi('time', timer.timerTick),
    counterBits: timer.counterBits,
    integerBits: timer.integerBits,
    zeroTimeoutS: valueSi('time', timer.zeroTimeout),
    topSpeedMPerS: valueSi('speed', timer.topSpeed),
    odometerStepM: valueSi('distance', timer.odometerStep),
  }
  return Object.assign(
    input,
    timer.speedParts === undefined ? undefined : { speedParts: timer.speedParts },
    timer.filterFactor === undefined ? undefined : { filterFactor: timer.filterFactor },
  )
}

function notesOf(made: Firmware, timer: Timer): Note[] {
  const notes: Note[] = []
  const coarse = [made.kmh, made.mph].some(({ whole }) => whole < COARSE)
  if (coarse) {
    notes.push({
      code: 'constant-coarse',
      level: 'caution',
      text: 'The whole constant is small, so its rounding affects the speed: use a shorter timerTick or finer speedParts.',
    })
  }
  if (made.filter !== undefined && made.filter.stateBits > timer.integerBits) {
    notes.push({
      code: 'filter-state-too-wide',
      level: 'caution',
      text: `The state of the filter needs ${made.filter.stateBits} bits for the longest period, but integers have ${timer.integerBits}: it overflows near a stop. Use wider integers for it, a smaller shift or a shorter timeout.`,
    })
  }
  if (Math.min(made.kmh.maxPeriods, made.mph.maxPeriods) < 2) {
    notes.push({
      code: 'one-period-only',
      level: 'info',
      text: 'Twice the constant does not fit these integers: several periods cannot be timed as one.',
    })
  }
  return notes
}

const constantOut = (constant: SpeedConstant) => ({ ...constant })

/** Firmware constants from pulses per distance, for a request or a saved vehicle. */
export function firmwareOut(supply: PulseSupply, timer: Timer): FirmwareShape {
  const made = firmware(firmwareInput(supply.pulsesPerM, timer))
  const { odometer } = made
  const out: FirmwareShape = {
    pulsesPerMile: figureOut(perDistanceOut, supply.pulsesPerM),
    distancePerPulse: figureOut(lengthOut, made.distancePerPulseM),
    ticksPerSecond: made.ticksPerSecond,
    counterBits: timer.counterBits,
    integerBits: timer.integerBits,
    speedParts: made.speedParts,
    kmh: constantOut(made.kmh),
    mph: constantOut(made.mph),
    timeoutTicks: made.timeoutTicks,
    lowestSpeed: speedOut(made.lowestSpeedMPerS),
    topSpeedTicks: made.topSpeedTicks,
    resolutionAtTopSpeed: speedOut(made.resolutionAtTopMPerS),
    counterWrap: timeOut(made.counterWrapS),
    odometer: {
      pulsesPerStep: odometer.pulses.value,
      pulsesPerStepPlusMinus: plusMinus(odometer.pulses),
      wholePulses: odometer.wholePulses,
      residue: odometer.residue,
      residue65536: odometer.residue65536,
      driftPpm: odometer.driftPpm,
      driftWithoutResiduePercent: odometer.driftWithoutResiduePercent,
    },
    ...provenance({
      sources: [...supply.sources, 'definitions', 'gum'],
      notes: [...supply.notes, ...notesOf(made, timer)],
    }),
  }
  if (made.filter !== undefined) out.filter = { ...made.filter }
  return out
}

/** The answer of `POST /v1/pulses/firmware-constants`. */
export function firmwareConstantsOut(request: FirmwareBody, table: SizeTable): FirmwareShape {
  return firmwareOut(supplyOf(request, table), request)
}

/** A number as a C double constant that reads back exactly. */
const real = (value: number) => {
  const text = String(value)
  return /[.e]/.test(text) ? text : `${text}.0`
}

/** The same constants as a C header. */
export function firmwareHeader(made: FirmwareShape): string {
  const { integerBits, odometer, kmh, mph, filter } = made
  const suffix = integerBits === 64 ? 'ULL' : integerBits === 32 ? 'UL' : 'U'
  const sections: ReadonlyArray<readonly [string, ReadonlyArray<readonly [string, string, string]>]> = [
    [
      'Pulses of the wheel',
      [
        ['PULSES_PER_MILE', real(made.pulsesPerMile.perMile), ''],
        ['PULSES_PER_KM', real(made.pulsesPerMile.perKm), ''],
        ['MM_PER_PULSE', real(made.distancePerPulse.mm), ''],
      ],
    ],
    [
      'Timer',
      [
        ['TICKS_PER_SECOND', real(made.ticksPerSecond), ''],
        ['COUNTER_BITS', String(made.counterBits), ''],
        ['TIMEOUT_TICKS', `${made.timeoutTicks}${suffix}`, 'without a pulse for this time: show zero'],
      ],
    ],
    [
      'Speed from the period of one pulse in ticks',
      [
        ['SPEED_PARTS', `${made.speedParts}${suffix}`, 'parts of a unit in the whole constants'],
        ['KMH_PARTS_TICKS', `${kmh.whole}${suffix}`, 'parts of km/h = this / ticks'],
        ['MPH_PARTS_TICKS', `${mph.whole}${suffix}`, 'parts of mph = this / ticks'],
        ['KMH_TICKS', real(kmh.floating), 'km/h = this / ticks'],
        ['MPH_TICKS', real(mph.floating), 'mph = this / ticks'],
        [
          'KMH_MIN_TICKS_16',
          `${kmh.minTicksFor16Bits}${suffix}`,
          'shorter: parts of km/h need more than 16 bits',
        ],
        [
          'MPH_MIN_TICKS_16',
          `${mph.minTicksFor16Bits}${suffix}`,
          'shorter: parts of mph need more than 16 bits',
        ],
        ['KMH_MAX_PERIODS', `${kmh.maxPeriods}${suffix}`, 'maximum number of periods timed as one'],
        ['MPH_MAX_PERIODS', `${mph.maxPeriods}${suffix}`, 'maximum number of periods timed as one'],
      ],
    ],
    [
      'Odometer: one step every STEP_PULSES pulses; add STEP_RESIDUE at each step, and one pulse more when the sum passes 65535',
      [
        ['STEP_PULSES', `${odometer.wholePulses}${suffix}`, ''],
        ['STEP_RESIDUE', `${odometer.residue65536}UL`, ''],
      ],
    ],
  ]
  const lines = [
    `/* Firmware constants from wheel-to-dial, model ${made.model}. Generated: change the request, not this file. */`,
    '#ifndef WHEEL_TO_DIAL_CONSTANTS_H',
    '#define WHEEL_TO_DIAL_CONSTANTS_H',
  ]
  const all =
    filter === undefined
      ? sections
      : [
          ...sections,
          [
            'Smoothing of the period: state += period - (state >> FILTER_SHIFT); smoothed = state >> FILTER_SHIFT',
            [
              ['FILTER_SHIFT', String(filter.shift), ''],
              ['FILTER_STATE_BITS', String(filter.stateBits), 'width of the state'],
            ],
          ] as const,
        ]
  for (const [title, rows] of all) {
    lines.push('', `/* ${title}. */`)
    for (const [name, value, comment] of rows) {
      lines.push(`#define WTD_${name} ${value}${comment === '' ? '' : ` /* ${comment} */`}`)
    }
  }
  for (const { level, text } of made.notes) lines.push('', `/* ${level}: ${text.replaceAll('*/', '* /')} */`)
  lines.push('', '#endif', '')
  return lines.join('\n')
}
