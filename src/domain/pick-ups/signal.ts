import { DomainError, withPointer } from '../errors.js'
import { assumed } from '../measure/assumptions.js'
import { exact, type Figure, uncertain } from '../measure/figure.js'
import { product, quotient, scaled, sum } from '../measure/propagation.js'
import {
  lowestSpeedMPerS,
  periodSpeedStepMPerS,
  pulseFrequencyHz,
  tickWithinPeriodS,
} from '../pulses/timing.js'
import type { TireGeometry } from '../tires/geometry.js'
import { outerWheelPercent } from './bends.js'
import { type Ledger, settingOf } from './ledger.js'
import type {
  Gearbox,
  MagneticSensor,
  PropellerShaft,
  Satellite,
  ShaftRing,
  SignalOption,
} from './options.js'
import {
  eccentricUncertaintyMPerS,
  edgeUncertaintyMPerS,
  firstReadingM,
  periodsAveraged,
  readingDelayS,
} from './pulse-reading.js'
import { slopeShare, standstillSpeedMPerS } from './satellite.js'

/** Common inputs of the options: the car and its display. */
export interface Setting {
  readonly tire: TireGeometry
  readonly finalDrive?: Figure
  readonly trackWidthM: Figure
  readonly maxSlipPercent: number
  readonly timerTickS: number
  readonly zeroTimeoutS: number
}

/** One reading at one speed, before the display. */
export interface Reading {
  readonly frequencyHz?: number
  readonly stepMPerS: number
  readonly delayS: number
  readonly firstReadingS: number
  /** The reading at that speed, with its uncertainty. */
  readonly readMPerS: Figure
}

/** Signal of a pick-up, independent of its use. */
export interface Signal {
  readonly pulsesPerM?: Figure
  readonly lowestSpeedMPerS: Figure
  readonly firstReadingM?: Figure
  readonly coldStartS?: number
  readonly warmStartS?: number
  readonly timeToZeroS: number
  readonly worksInTunnels: boolean
  /** Deviation in a bend on the outer side [%]; the inner side has the opposite sign. */
  readonly bendPercent: (radiusM: number) => Figure
  readonly reading: (speedMPerS: number, updateS: number) => Reading
}

interface PulseSource {
  readonly pulsesPerM: Figure
  /** Pulses per turn of the ring; unknown for a sensor specified in pulses per distance. */
  readonly pulsesPerTurn?: number
  readonly driven: boolean
  readonly bendPercent: Signal['bendPercent']
  /** Lowest speed with pulses. */
  readonly lowestPulseMPerS?: Figure
}

function throughFinalDrive(setting: Setting, ledger: Ledger): Figure {
  if (setting.finalDrive === undefined) {
    throw new DomainError(
      'needs-another-field',
      `finalDrive: the option at ${ledger.pointer} needs it; give the ratio of the final drive, or leave the option out`,
      { pointer: '/finalDrive' },
    )
  }
  return product(setting.tire.turnsPerM, setting.finalDrive)
}

const straight: Signal['bendPercent'] = () => exact(0)

function shaftRing(option: ShaftRing, setting: Setting): PulseSource {
  return {
    pulsesPerM: scaled(setting.tire.turnsPerM, option.pulsesPerTurn),
    pulsesPerTurn: option.pulsesPerTurn,
    driven: (option.axle ?? 'driven') === 'driven',
    bendPercent:
      option.wheels === 'both' ? straight : (radiusM) => outerWheelPercent(setting.trackWidthM, radiusM),
  }
}

function propellerShaft(option: PropellerShaft, setting: Setting, ledger: Ledger): PulseSource {
  return {
    pulsesPerM: scaled(throughFinalDrive(setting, ledger), option.pulsesPerTurn),
    pulsesPerTurn: option.pulsesPerTurn,
    driven: true,
    bendPercent: straight,
  }
}

function gearbox(option: Gearbox, setting: Setting, ledger: Ledger): PulseSource {
  return {
    pulsesPerM: scaled(product(throughFinalDrive(setting, ledger), option.driveRatio), option.pulsesPerTurn),
    pulsesPerTurn: option.pulsesPerTurn,
    driven: true,
    bendPercent: straight,
  }
}

function magneticSensor(option: MagneticSensor, ledger: Ledger): PulseSource {
  ledger.sources.push('variable-reluctance-sensor')
  const source: PulseSource = {
    pulsesPerM: option.pulsesPerM,
    driven: true,
    bendPercent: straight,
    lowestPulseMPerS: product(option.atMPerS, quotient(option.requiredAmplitudeV, option.amplitudeV)),
  }
  return option.pulsesPerTurn === undefined ? source : { ...source, pulsesPerTurn: option.pulsesPerTurn }
}

function pulseSource(
  option: Exclude<SignalOption, Satellite>,
  setting: Setting,
  ledger: Ledger,
): PulseSource {
  switch (option.kind) {
    case 'shaft-ring':
      return shaftRing(option, setting)
    case 'propeller-shaft':
      return propellerShaft(option, setting, ledger)
    case 'gearbox':
      return gearbox(option, setting, ledger)
    case 'magnetic-sensor':
      return magneticSensor(option, ledger)
  }
}

function pulseSignal(option: Exclude<SignalOption, Satellite>, setting: Setting, ledger: Ledger): Signal {
  const source = pulseSource(option, setting, ledger)
  const { pulsesPerM } = source
  const edgeShare =
    settingOf(
      ledger,
      option.pitchErrorPercent,
      1,
      '/pitchErrorPercent',
      '1 % of the pitch, standard uncertainty of one edge',
      'ring: positions of the teeth',
    ) / 100
  const eccentricity =
    settingOf(
      ledger,
      option.eccentricityPercent,
      0.5,
      '/eccentricityPercent',
      '0.5 % of the radius',
      'ring: eccentricity',
    ) / 100
  ledger.standings.set('timer: tick', 'derived')
  // For an unknown ring no number of pulses is known to be a whole turn, so its flaws do not average out.
  const perTurn = source.pulsesPerTurn ?? Number.MAX_SAFE_INTEGER
  const timedOut = lowestSpeedMPerS(pulsesPerM, exact(setting.zeroTimeoutS))
  const weak = source.lowestPulseMPerS
  const relative = quotient(pulsesPerM, exact(pulsesPerM.value))
  const halfSlip = source.driven ? setting.maxSlipPercent / 200 : 0
  const signal: Signal = {
    pulsesPerM,
    lowestSpeedMPerS: weak !== undefined && weak.value > timedOut.value ? weak : timedOut,
    firstReadingM: firstReadingM(pulsesPerM),
    timeToZeroS: setting.zeroTimeoutS,
    worksInTunnels: true,
    bendPercent: source.bendPercent,
    reading: (speedMPerS, updateS) => {
      const frequencyHz = pulseFrequencyHz(pulsesPerM.value, speedMPerS)
      const periods = periodsAveraged(frequencyHz, updateS)
      const { timerTickS } = setting
      withPointer('/display', () => tickWithinPeriodS(pulsesPerM.value, speedMPerS, timerTickS, periods))
      const stepMPerS = periodSpeedStepMPerS(pulsesPerM.value, speedMPerS, timerTickS, periods)
      const flaw = (input: string, uncertaintyMPerS: number) => uncertain(0, input, uncertaintyMPerS)
      return {
        frequencyHz,
        stepMPerS,
        delayS: readingDelayS(frequencyHz, updateS),
        firstReadingS: 2 / frequencyHz,
        readMPerS: sum(
          scaled(relative, speedMPerS),
          uncertain(speedMPerS * halfSlip, SLIP, (speedMPerS * halfSlip) / Math.sqrt(3)),
          flaw('ring: positions of the teeth', edgeUncertaintyMPerS(speedMPerS, edgeShare, periods, perTurn)),
          flaw('ring: eccentricity', eccentricUncertaintyMPerS(speedMPerS, eccentricity, periods, perTurn)),
          flaw('timer: tick', stepMPerS / Math.sqrt(12)),
        ),
      }
    },
  }
  return signal
}

/** Name of the slip of the driven wheels in budgets. */
export const SLIP = 'tire: slip of the driven wheels'

function satelliteSignal(option: Satellite, ledger: Ledger): Signal {
  ledger.sources.push('satellite-speed')
  const axisMPerS = assumed(
    option.axisUncertaintyMPerS,
    0.2,
    { field: `${ledger.pointer}/axisUncertainty`, value: '0.2 m/s, 95 % of one axis', standing: 'published' },
    ledger.taken,
  )
  ledger.standings.set(
    'satellite: speed',
    option.axisUncertaintyMPerS === undefined ? 'published' : 'measured',
  )
  const latencyS = settingOf(ledger, option.latencyS, 0.5, '/latency', '0.5 s')
  const coldStartS = settingOf(ledger, option.coldStartS, 45, '/coldStart', '45 s')
  const warmStartS = settingOf(ledger, option.warmStartS, 3, '/warmStart', '3 s')
  const slopePercent = settingOf(
    ledger,
    option.steepestSlopePercent,
    6,
    '/steepestSlopePercent',
    'slopes up to 6 %',
    'satellite: slope of the road',
  )
  const halfShare = slopeShare(slopePercent) / 2
  return {
    lowestSpeedMPerS: exact(standstillSpeedMPerS(axisMPerS)),
    coldStartS,
    warmStartS,
    timeToZeroS: latencyS + 1 / option.rateHz,
    worksInTunnels: false,
    bendPercent: straight,
    reading: (speedMPerS, updateS) => ({
      stepMPerS: SATELLITE_STEP_M_PER_S,
      // On average, the newest fix is half an interval old and the display half an update.
      delayS: latencyS + 1 / (2 * option.rateHz) + updateS / 2,
      firstReadingS: coldStartS,
      readMPerS: sum(
        exact(speedMPerS),
        uncertain(0, 'satellite: speed', axisMPerS / 2),
        uncertain(
          -speedMPerS * halfShare,
          'satellite: slope of the road',
          (speedMPerS * halfShare) / Math.sqrt(3),
        ),
      ),
    }),
  }
}

/** Step of the speed that receivers send, 0.01 m/s; common practice, no source. */
const SATELLITE_STEP_M_PER_S = 0.01

/**
 * Signal of a pick-up on this car: pulses per distance, lowest speed, and the reading at any speed.
 *
 *     K = N · turns per distance · (ratios between wheel and ring)
 *
 * N is the number of pulses in a turn of the ring.
 *
 * @param option - The pick-up
 * @param setting - Car and timing
 * @param ledger - Record of assumptions, standings and sources
 * @returns The signal
 * @throws {DomainError} `needs-another-field` for a propeller shaft or speedometer drive without the final drive
 * @see EU 165/2014, Annex I (pulses per turn and circumference); NAVSTAR GPS User Equipment Introduction, 3.3
 * @example signalOf({ kind: 'shaft-ring', pulsesPerTurn: 8 }, { tire: tireGeometry({ rollingCircumferenceM: exact(1.885) }), trackWidthM: exact(1.4), maxSlipPercent: 1, timerTickS: 1e-6, zeroTimeoutS: 1 }, { pointer: '', taken: [], standings: new Map(), sources: [] }).pulsesPerM.value // 4.24403183 ± 1e-8
 */
export function signalOf(option: SignalOption, setting: Setting, ledger: Ledger): Signal {
  return option.kind === 'satellite' ? satelliteSignal(option, ledger) : pulseSignal(option, setting, ledger)
}
