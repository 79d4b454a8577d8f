import type { FirmwareShape } from '../schemas/firmware.js'

/** A number as a C double constant that reads back exactly. */
const real = (value: number) => {
  const text = String(value)
  return /[.e]/.test(text) ? text : `${text}.0`
}

type Section = readonly [
  title: string,
  rows: ReadonlyArray<readonly [name: string, value: string, comment: string]>,
]

function pulseAndTimerSections(made: FirmwareShape, suffix: string): Section[] {
  return [
    [
      'Pulses of the wheel',
      [
        ['PULSES_PER_MILE', real(made.pulses.perMile), ''],
        ['PULSES_PER_KM', real(made.pulses.perKm), ''],
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
  ]
}

function speedSection({ speedParts, kmh, mph }: FirmwareShape, suffix: string): Section {
  return [
    'Speed from the period of one pulse in ticks',
    [
      ['SPEED_PARTS', `${speedParts}${suffix}`, 'parts of a unit in the whole constants'],
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
  ]
}

function odometerSection({ odometer }: FirmwareShape, suffix: string): Section {
  return [
    'Odometer: one step every STEP_PULSES pulses; add STEP_RESIDUE at each step, and one pulse more when the sum passes 65535',
    [
      ['STEP_PULSES', `${odometer.wholePulses}${suffix}`, ''],
      ['STEP_RESIDUE', `${odometer.residue65536}UL`, ''],
    ],
  ]
}

function filterSections({ filter }: FirmwareShape): Section[] {
  if (filter === undefined) return []
  return [
    [
      'Smoothing of the period: state += period - (state >> FILTER_SHIFT); smoothed = state >> FILTER_SHIFT',
      [
        ['FILTER_SHIFT', String(filter.shift), ''],
        ['FILTER_STATE_BITS', String(filter.stateBits), 'width of the state'],
      ],
    ],
  ]
}

/** Firmware constants as a C header. */
export function firmwareHeader(made: FirmwareShape): string {
  const { integerBits } = made
  const suffix = integerBits === 64 ? 'ULL' : integerBits === 32 ? 'UL' : 'U'
  const sections = [
    ...pulseAndTimerSections(made, suffix),
    speedSection(made, suffix),
    odometerSection(made, suffix),
    ...filterSections(made),
  ]
  const lines = [
    `/* Firmware constants from wheel-to-dial, model ${made.model}. Generated: change the request, not this file. */`,
    '#ifndef WHEEL_TO_DIAL_CONSTANTS_H',
    '#define WHEEL_TO_DIAL_CONSTANTS_H',
  ]
  for (const [title, rows] of sections) {
    lines.push('', `/* ${title}. */`)
    for (const [name, value, comment] of rows) {
      lines.push(`#define WTD_${name} ${value}${comment === '' ? '' : ` /* ${comment} */`}`)
    }
  }
  for (const { level, text } of made.notes) lines.push('', `/* ${level}: ${text.replaceAll('*/', '* /')} */`)
  lines.push('', '#endif', '')
  return lines.join('\n')
}
