import type { Assumption } from '../measure/assumptions.js'
import { budget, contributionOf } from '../measure/budget.js'
import { exact, type Figure, uncertain } from '../measure/figure.js'
import { cautionNote, type Note } from '../measure/notes.js'
import { quotient, scaled, sum } from '../measure/propagation.js'
import type { SourceId, Standing } from '../measure/sources.js'
import { standardUncertainty } from '../measure/uncertainty.js'
import type { Mutable } from '../mutable.js'
import { type Tire, tireGeometryAt } from '../tires/geometry.js'
import type { SizeTable } from '../tires/size-table.js'
import { behaviorOf, type OdometerBehavior, type WhereItWorks } from './behavior.js'
import { type Ledger, settingOf } from './ledger.js'
import type { DrivenHead, PickUpKind, PickUpOption } from './options.js'
import { type Reading, type Setting, type Signal, SLIP, signalOf } from './signal.js'

export interface ComparisonRequest {
  readonly tire: Tire
  readonly finalDrive?: Figure
  readonly trackWidthM?: Figure
  /** Maximum slip of the driven wheels at a steady speed [%]. */
  readonly maxSlipPercent?: number
  readonly speedsMPerS: readonly number[]
  readonly bendRadiiM?: readonly number[]
  readonly display?: {
    readonly updateS?: number
    readonly stepMPerS?: number
    readonly timerTickS?: number
    readonly zeroTimeoutS?: number
  }
  readonly options: readonly PickUpOption[]
}

/** One line of the uncertainty budget of a reading, with how well its input is known. */
export interface ErrorLine {
  readonly input: string
  readonly sharePercent: number
  /** Contribution of this input alone, 95 %. */
  readonly plusMinusMPerS: number
  readonly standing: Standing
}

export interface SpeedRow {
  readonly speedMPerS: number
  /** Whether the option shows this speed at all; if not, the following fields are absent. */
  readonly shown: boolean
  readonly frequencyHz?: number
  readonly headSpeedPerS?: number
  /** Resolution of the signal, and the smallest change that is shown and can be read. */
  readonly signalStepMPerS?: number
  readonly resolutionMPerS?: number
  readonly delayS?: number
  readonly timeToFirstReadingS?: number
  /** Indicated minus true. */
  readonly errorMPerS?: Figure
  readonly errorBudget?: readonly ErrorLine[]
}

export interface BendRow {
  readonly radiusM: number
  readonly outerPercent: Figure
  readonly innerPercent: Figure
}

export interface PickUpResult {
  readonly kind: PickUpKind
  readonly name: string
  readonly pulsesPerM?: Figure
  readonly distancePerPulseM?: Figure
  readonly lowestSpeedMPerS: Figure
  readonly firstReadingM?: Figure
  readonly coldStartS?: number
  readonly warmStartS?: number
  readonly timeToZeroS: number
  readonly table: readonly SpeedRow[]
  readonly bends: readonly BendRow[]
  readonly tunnels: WhereItWorks
  readonly start: WhereItWorks
  readonly odometer: OdometerBehavior
  readonly assumptions: readonly Assumption[]
  readonly risks: readonly Note[]
}

export type Criterion = 'smallest-error' | 'shortest-delay' | 'lowest-speed' | 'finest-resolution'

/** Best option by one criterion, at a speed where it matters. */
export interface Leader {
  readonly criterion: Criterion
  readonly speedMPerS?: number
  readonly option: number
  readonly name: string
}

export interface Comparison {
  readonly options: readonly PickUpResult[]
  readonly leaders: readonly Leader[]
  readonly assumptions: readonly Assumption[]
  readonly sources: readonly SourceId[]
  readonly notes: readonly Note[]
}

/** How well the tire inputs of `tires/geometry` are known; all others come from the caller. */
const TIRE_STANDINGS: ReadonlyArray<readonly [string, Standing]> = [
  ['tire: rolling factor', 'from-memory'],
  ['tire: tolerance of a new tire', 'from-memory'],
  ['tire: share of wear in the rolling radius', 'published'],
  ['tire: estimated section height', 'common-practice'],
  ['tire: width of a combined size', 'common-practice'],
  ['tire: construction not stated', 'common-practice'],
]

/**
 * Comparison of ways to pick up the speed on one car.
 *
 *     pulses: v₀ = 1/(K·T), delay M/(2f) + 1/(2f) + T_u/2, step v·f·t/M
 *     satellite: delay latency + 1/(2·rate) + T_u/2;  driven head: that of the signal plus that of the motor
 *     resolution: the largest of the signal's step, the display's, or the motor's and 2·U_n
 *     error = indicated − true, by first-order propagation over tire, ratios, slip, ring, timer, display
 *
 * K is pulses per distance, T the zero timeout, v₀ the lowest speed shown, f the
 * pulse frequency, M the periods averaged, T_u the time between two updates, v the speed, t the tick of the timer, U_n the reading uncertainty of the needle of a driven head (95 %).
 *
 * Every input that the caller leaves out has a typical value and is listed, with its standing, in the answer.
 *
 * @param request - Car, speeds [m/s], options, and the common display of the numeric ones
 * @param sizeTable - Finds tire sizes that no formula covers
 * @returns One result per option, in the given order, and the leader by each criterion
 * @throws {DomainError} `needs-another-field` for an option that needs the final drive
 * @see EU 165/2014, Annex I (w = pulses per turn/circumference); NAVSTAR GPS User Equipment Introduction, 3.3; JCGM 100:2008, F.2.2.1 (resolution); the rest derived
 * @example comparePickUps({ tire: { rollingCircumferenceM: exact(2) }, speedsMPerS: [10], options: [{ kind: 'shaft-ring', pulsesPerTurn: 8 }] }, builtInSizes).options[0].lowestSpeedMPerS.value // 0.25 ± 1e-12
 */
export function comparePickUps(request: ComparisonRequest, sizeTable: SizeTable): Comparison {
  const tire = tireGeometryAt('/tire', request.tire, sizeTable)
  const shared: Ledger = {
    pointer: '',
    taken: [],
    standings: new Map(TIRE_STANDINGS),
    sources: ['definitions', 'gum', 'pick-up-practice', ...tire.sources],
  }
  const { display = {} } = request
  const updateS = settingOf(shared, display.updateS, 0.25, '/display/update', '0.25 s')
  const stepMPerS = settingOf(shared, display.stepMPerS, 1 / 3.6, '/display/step', '1 km/h')
  const setting: Mutable<Setting> = {
    tire,
    trackWidthM: trackOf(request, shared),
    maxSlipPercent: settingOf(shared, request.maxSlipPercent, 1, '/maxSlipPercent', 'up to 1 %', SLIP),
    timerTickS: settingOf(shared, display.timerTickS, 1e-6, '/display/timerTick', '1 us'),
    zeroTimeoutS: settingOf(shared, display.zeroTimeoutS, 1, '/display/zeroTimeout', '1 s'),
  }
  if (request.finalDrive !== undefined) setting.finalDrive = request.finalDrive
  shared.standings.set('display: step', 'derived')

  const radiiM = request.bendRadiiM ?? [10, 50]
  if (request.bendRadiiM === undefined)
    shared.taken.push({ field: '/bendRadii', value: '10 m and 50 m', standing: 'common-practice' })

  const options = request.options.map((option, index) => {
    const ledger: Ledger = {
      pointer: `/options/${index}`,
      taken: [],
      standings: new Map(shared.standings),
      sources: shared.sources,
    }
    return resultOf(option, { setting, ledger, updateS, stepMPerS, radiiM, speedsMPerS: request.speedsMPerS })
  })
  return {
    options,
    leaders: leadersOf(options, request.speedsMPerS),
    assumptions: shared.taken,
    sources: shared.sources,
    notes: [
      ...tire.notes,
      cautionNote(
        'work-on-stands',
        'Fit pick-ups with the car on axle stands, never on a jack alone; nothing may come loose near a rotating shaft; tighten hub, axle and shaft fasteners to the torque in the workshop manual.',
      ),
    ],
  }
}

function trackOf(request: ComparisonRequest, shared: Ledger): Figure {
  if (request.trackWidthM !== undefined) return request.trackWidthM
  if (request.options.some(readsOneWheel)) {
    shared.taken.push({
      field: '/trackWidth',
      value: '1.35 m, from 1.2 to 1.5',
      standing: 'common-practice',
    })
  }
  return uncertain(1.35, 'car: track width', 0.15 / Math.sqrt(3))
}

const readsOneWheel = (option: PickUpOption): boolean =>
  option.kind === 'driven-head'
    ? readsOneWheel(option.signal)
    : option.kind === 'shaft-ring' && option.wheels !== 'both'

interface Bench {
  readonly setting: Setting
  readonly ledger: Ledger
  readonly updateS: number
  readonly stepMPerS: number
  readonly radiiM: readonly number[]
  readonly speedsMPerS: readonly number[]
}

function resultOf(option: PickUpOption, bench: Bench): PickUpResult {
  const { ledger, setting } = bench
  const signalLedger =
    option.kind === 'driven-head' ? { ...ledger, pointer: `${ledger.pointer}/signal` } : ledger
  const signal = signalOf(option.kind === 'driven-head' ? option.signal : option, setting, signalLedger)
  const show =
    option.kind === 'driven-head' ? drivenHead(option, signal, ledger) : numericDisplay(signal, bench)
  const behavior = behaviorOf(option, signal)
  if (!behavior.odometer.continues) ledger.sources.push('us-49-usc-32703')
  const result: Mutable<PickUpResult> = {
    kind: option.kind,
    name: option.name ?? option.kind,
    lowestSpeedMPerS: show.lowestSpeedMPerS,
    timeToZeroS: show.timeToZeroS,
    table: bench.speedsMPerS.map((speedMPerS) => rowOf(speedMPerS, show, ledger)),
    bends: bench.radiiM.map((radiusM) => {
      const outerPercent = signal.bendPercent(radiusM)
      return { radiusM, outerPercent, innerPercent: scaled(outerPercent, -1) }
    }),
    ...behavior,
    assumptions: ledger.taken,
  }
  if (signal.pulsesPerM !== undefined) {
    result.pulsesPerM = signal.pulsesPerM
    result.distancePerPulseM = quotient(exact(1), signal.pulsesPerM)
  }
  if (signal.firstReadingM !== undefined) result.firstReadingM = signal.firstReadingM
  if (signal.coldStartS !== undefined) result.coldStartS = signal.coldStartS
  if (signal.warmStartS !== undefined) result.warmStartS = signal.warmStartS
  return result
}

/** How a signal is shown: by digits, or by a motor that turns the old head. */
interface Show {
  readonly lowestSpeedMPerS: Figure
  readonly timeToZeroS: number
  readonly at: (speedMPerS: number) => Reading & { resolutionMPerS: number; headSpeedPerS?: number }
}

function numericDisplay(signal: Signal, { updateS, stepMPerS }: Bench): Show {
  return {
    lowestSpeedMPerS: signal.lowestSpeedMPerS,
    timeToZeroS: signal.timeToZeroS + updateS / 2,
    at: (speedMPerS) => {
      const reading = signal.reading(speedMPerS, updateS)
      return {
        ...reading,
        readMPerS: sum(reading.readMPerS, uncertain(0, 'display: step', stepMPerS / Math.sqrt(12))),
        resolutionMPerS: Math.max(reading.stepMPerS, stepMPerS),
      }
    },
  }
}

function drivenHead(option: DrivenHead, signal: Signal, ledger: Ledger): Show {
  const { head, motor = {} } = option
  const { constantPerM } = head
  const motorStepPerS = settingOf(ledger, motor.stepPerS, 1 / 60, '/motor/step', '1 rpm', 'motor: step')
  const motorLowestPerS = settingOf(ledger, motor.lowestPerS, 0.5, '/motor/lowest', '30 rpm')
  const lagS = settingOf(ledger, motor.lagS, 0.2, '/motor/lag', '0.2 s')
  const updateS = settingOf(ledger, motor.updateS, 0.05, '/motor/update', '0.05 s')
  const headShare =
    settingOf(
      ledger,
      head.uncertaintyPercent,
      2,
      '/head/uncertaintyPercent',
      '2 %, 95 %',
      'head: error of the head',
    ) / 100
  const needleMPerS = settingOf(
    ledger,
    head.readingUncertaintyMPerS,
    1 / 3.6,
    '/head/readingUncertainty',
    '1 km/h, 95 %',
    'head: reading the needle',
  )
  // A step of d means ± d/2; so a needle read to ± d resolves no more than a step of 2d.
  const readableMPerS = 2 * needleMPerS
  const slowest = quotient(exact(motorLowestPerS), constantPerM)
  const motorStepMPerS = motorStepPerS / constantPerM.value
  const relative = quotient(constantPerM, exact(constantPerM.value))
  return {
    lowestSpeedMPerS: slowest.value > signal.lowestSpeedMPerS.value ? slowest : signal.lowestSpeedMPerS,
    timeToZeroS: signal.timeToZeroS + updateS / 2 + lagS,
    at: (speedMPerS) => {
      const reading = signal.reading(speedMPerS, updateS)
      return {
        ...reading,
        delayS: reading.delayS + lagS,
        resolutionMPerS: Math.max(reading.stepMPerS, motorStepMPerS, readableMPerS),
        headSpeedPerS: speedMPerS * constantPerM.value,
        readMPerS: sum(
          reading.readMPerS,
          scaled(sum(relative, exact(-1)), -speedMPerS),
          uncertain(0, 'motor: step', motorStepMPerS / Math.sqrt(12)),
          uncertain(0, 'head: error of the head', (speedMPerS * headShare) / 2),
          uncertain(0, 'head: reading the needle', needleMPerS / 2),
        ),
      }
    },
  }
}

function rowOf(speedMPerS: number, show: Show, ledger: Ledger): SpeedRow {
  if (speedMPerS < show.lowestSpeedMPerS.value) return { speedMPerS, shown: false }
  const reading = show.at(speedMPerS)
  const errorMPerS = sum(reading.readMPerS, exact(-speedMPerS))
  const row: Mutable<SpeedRow> = {
    speedMPerS,
    shown: true,
    signalStepMPerS: reading.stepMPerS,
    resolutionMPerS: reading.resolutionMPerS,
    delayS: reading.delayS,
    timeToFirstReadingS: reading.firstReadingS,
    errorMPerS,
    errorBudget: errorLines(errorMPerS, ledger),
  }
  if (reading.frequencyHz !== undefined) row.frequencyHz = reading.frequencyHz
  if (reading.headSpeedPerS !== undefined) row.headSpeedPerS = reading.headSpeedPerS
  return row
}

function errorLines(error: Figure, { standings }: Ledger): ErrorLine[] {
  return budget(error).map(({ input, sharePercent }) => ({
    input,
    sharePercent,
    plusMinusMPerS: 2 * Math.abs(contributionOf(error, input)),
    standing: standings.get(input) ?? 'measured',
  }))
}

function leadersOf(options: readonly PickUpResult[], speedsMPerS: readonly number[]): Leader[] {
  const leaders: Leader[] = []
  const lead = (
    criterion: Criterion,
    figure: (option: PickUpResult) => number | undefined,
    speedMPerS?: number,
  ) => {
    let best: { option: number; value: number } | undefined
    options.forEach((one, option) => {
      const value = figure(one)
      if (value !== undefined && (best === undefined || value < best.value)) best = { option, value }
    })
    if (best === undefined) return
    const leader: Mutable<Leader> = { criterion, option: best.option, name: options[best.option]!.name }
    if (speedMPerS !== undefined) leader.speedMPerS = speedMPerS
    leaders.push(leader)
  }
  lead('lowest-speed', ({ lowestSpeedMPerS }) => lowestSpeedMPerS.value)
  for (const [index, speed] of speedsMPerS.entries()) {
    // Bias and uncertainty combined: the root mean square error.
    lead(
      'smallest-error',
      ({ table }) => {
        const error = table[index]?.errorMPerS
        return error === undefined ? undefined : Math.hypot(error.value, standardUncertainty(error))
      },
      speed,
    )
    lead('shortest-delay', ({ table }) => table[index]?.delayS, speed)
    lead('finest-resolution', ({ table }) => table[index]?.resolutionMPerS, speed)
  }
  return leaders
}
