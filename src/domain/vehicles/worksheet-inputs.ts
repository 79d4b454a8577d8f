import { type GivenStage, stageName } from '../drive-paths/given-path.js'
import type { Figure } from '../measure/figure.js'
import { SOURCES, type SourceId, type Standing } from '../measure/sources.js'
import { plusMinus } from '../measure/uncertainty.js'
import type { Mutable } from '../mutable.js'
import type { GivenPath, GivenVehicle } from './given-vehicle.js'
import type { Axle, EvaluatedPath, Vehicle } from './vehicle.js'

/** A quantity that a worksheet is based on; its value stands under the field of its dimension. */
export interface WorksheetInput {
  /** Field of the profile that it is, or that replaces it: JSON Pointer. */
  readonly field: string
  readonly what: string
  readonly standing: Standing
  readonly lengthM?: Figure
  readonly perDistancePerM?: Figure
  readonly ratio?: Figure
  readonly speedMPerS?: Figure
  readonly percent?: number
  /** 95 % [percentage points]. */
  readonly percentPlusMinus?: number
}

/** What was measured on a vehicle, and what was taken from statements, tables or practice. */
export interface WorksheetInputs {
  readonly measured: readonly WorksheetInput[]
  readonly assumed: readonly WorksheetInput[]
}

/** Teeth, pulses or whole numbers of a stage, in words; empty where it has a ratio only. */
export const stageSetting = (stage: GivenStage): string => {
  if ('pulsesPerTurn' in stage) return `${stage.pulsesPerTurn} pulses per turn`
  if ('ring' in stage) return `ring ${stage.ring}, pinion ${stage.pinion}`
  if ('teeth' in stage) return `driving ${stage.teeth.driving}, driven ${stage.teeth.driven}`
  if ('multiply' in stage) return `${stage.multiply} out for ${stage.divide} in`
  return ''
}

/** Standings from the least certain to the most certain. */
const BY_CERTAINTY: readonly Standing[] = [
  'common-practice',
  'from-memory',
  'user',
  'published',
  'derived',
  'measured',
]

/** The least certain standing among the sources of a figure. */
function weakest(sources: readonly SourceId[]): Standing {
  const standings = new Set<Standing>(sources.map((id) => SOURCES[id].standing))
  return BY_CERTAINTY.find((standing) => standings.has(standing)) ?? 'derived'
}

const measured = (input: Omit<WorksheetInput, 'standing'>): WorksheetInputs => ({
  measured: [{ ...input, standing: 'measured' }],
  assumed: [],
})

const assumed = (input: WorksheetInput): WorksheetInputs => ({ measured: [], assumed: [input] })

function tireInputs(tire: GivenVehicle['tires'][Axle], axle: Axle, vehicle: Vehicle): WorksheetInputs[] {
  const field = `/tires/${axle}`
  const { rollingCircumferenceM: lengthM, turnsPerM, sources } = vehicle.tires[axle]
  const rolling = `${field}/rollingCircumference`
  if ('rollingCircumferenceM' in tire)
    return [measured({ field: rolling, what: `${axle} tire, rolling circumference`, lengthM })]
  if ('turnsPerM' in tire) {
    const what = `${axle} tire, turns per distance`
    return [measured({ field: `${field}/turns`, what, perDistancePerM: turnsPerM })]
  }
  if ('overallDiameterM' in tire) {
    const what = `${axle} tire, overall diameter`
    const standing = weakest(sources.filter((id) => id !== 'caller-reading'))
    return [
      measured({ field: `${field}/overallDiameter`, what, lengthM: tire.overallDiameterM }),
      assumed({
        field: rolling,
        what: `${axle} tire, rolling circumference from the diameter`,
        standing,
        lengthM,
      }),
    ]
  }
  const { size, wearM } = tire
  const state = wearM === undefined ? 'assumed new' : 'worn as measured'
  const wear =
    wearM === undefined
      ? []
      : [measured({ field: `${field}/wear`, what: `${axle} tire, loss of tread depth`, lengthM: wearM })]
  return [
    ...wear,
    assumed({
      field: rolling,
      what: `${axle} tire ${size}, ${state}, rolling circumference`,
      standing: weakest(sources),
      lengthM,
    }),
  ]
}

/** A quantity that the profile states: measured where it carries an uncertainty. */
const stated = (input: Omit<WorksheetInput, 'standing'>, figure: Figure): WorksheetInputs =>
  plusMinus(figure) > 0 ? measured(input) : assumed({ ...input, standing: 'user' })

function driveInputs({ name, stages, head }: GivenPath, pointer: string, { path }: EvaluatedPath) {
  const { constantPerM } = path.head
  return [
    ...stages.map((stage, place) => {
      const setting = stageSetting(stage)
      const { ratio } = path.stages[place]!
      const what = `${name}: ${stageName(stage, place)}${setting === '' ? '' : `, ${setting}`}, ratio`
      return stated({ field: `${pointer}/stages/${place}`, what, ratio }, ratio)
    }),
    stated(
      {
        field: `${pointer}/head/constant`,
        what: `${name}: constant of the head, ${head.input}`,
        perDistancePerM: constantPerM,
      },
      constantPerM,
    ),
  ]
}

function headErrorInputs(
  { name, head }: GivenPath,
  pointer: string,
  { path }: EvaluatedPath,
): WorksheetInputs[] {
  const { offsetMPerS, scalePercent, scalePercentPlusMinus } = head
  const inputs: WorksheetInputs[] = []
  if (offsetMPerS !== undefined) {
    const what = `${name}: offset of the head (reading at standstill)`
    inputs.push(measured({ field: `${pointer}/head/offset`, what, speedMPerS: path.head.offsetMPerS }))
  }
  const field = `${pointer}/head/scalePercent`
  if (scalePercent !== undefined) {
    const input: Mutable<Omit<WorksheetInput, 'standing'>> = {
      field,
      what: `${name}: scale error of the head`,
      percent: scalePercent,
    }
    if (scalePercentPlusMinus !== undefined) input.percentPlusMinus = scalePercentPlusMinus
    inputs.push(measured(input))
  }
  if (
    offsetMPerS === undefined &&
    scalePercent === undefined &&
    path.measured?.indicatedPerTrue === undefined
  ) {
    const what = `${name}: scale error and offset of the head, assumed zero`
    inputs.push(assumed({ field, what, standing: 'common-practice', percent: 0 }))
  }
  return inputs
}

function readingInputs(
  { name, head }: GivenPath,
  pointer: string,
  { path }: EvaluatedPath,
): WorksheetInputs[] {
  const { outputPerM, indicatedPerTrue, offsetMPerS } = path.measured ?? {}
  const inputs: WorksheetInputs[] = []
  if (outputPerM !== undefined) {
    const what = `${name}: ${head.input} per distance, counted`
    inputs.push(measured({ field: `${pointer}/measured/output`, what, perDistancePerM: outputPerM }))
  }
  if (indicatedPerTrue !== undefined) {
    const what = `${name}: indicated ÷ true speed, calibrated`
    inputs.push(measured({ field: `${pointer}/measured/indicatedPerTrue`, what, ratio: indicatedPerTrue }))
  }
  if (offsetMPerS !== undefined) {
    const what = `${name}: reading at standstill, calibrated`
    inputs.push(measured({ field: `${pointer}/measured/offset`, what, speedMPerS: offsetMPerS }))
  }
  return inputs
}

/**
 * What was measured on a vehicle, and what was taken as stated, from tables or from practice.
 *
 *     a stated ratio or constant counts as measured where it carries an uncertainty;  a table value has the least certain standing of its sources
 *
 * @param given - The profile
 * @param vehicle - The vehicle of that profile
 * @param evaluated - Its paths, with only the measured values that are still valid
 * @returns Both lists, tires first, then path by path
 * @see JCGM 100:2008, 4.1.3 (quantities determined in the measurement, and quantities brought in from outside); order of standings: by definition
 * @example worksheetInputs({ name: 'Quillock', tires: { front: { turnsPerM: exact(0.5) }, rear: { turnsPerM: exact(0.5) } }, paths: [], rule: 'un-r39' }, EXAMPLE_VEHICLE, []).measured.map(({ field }) => field) // ["/tires/front/turns","/tires/rear/turns"]
 */
export function worksheetInputs(
  given: GivenVehicle,
  vehicle: Vehicle,
  evaluated: readonly EvaluatedPath[],
): WorksheetInputs {
  const all = [
    ...(['front', 'rear'] as const).flatMap((axle) => tireInputs(given.tires[axle], axle, vehicle)),
    ...given.paths.flatMap((path, index) => {
      const [pointer, one] = [`/paths/${index}`, evaluated[index]!]
      return [
        ...driveInputs(path, pointer, one),
        ...headErrorInputs(path, pointer, one),
        ...readingInputs(path, pointer, one),
      ]
    }),
  ]
  return { measured: all.flatMap((one) => one.measured), assumed: all.flatMap((one) => one.assumed) }
}
