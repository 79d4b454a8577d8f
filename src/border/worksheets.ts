import type { Static } from '@sinclair/typebox'
import { writing } from '../codec/answer.js'
import { decoder } from '../codec/decoder.js'
import { encoder } from '../codec/encoder.js'
import {
  distanceOut,
  figureOut,
  figureSi,
  lengthOut,
  perDistanceOut,
  ratioOut,
  speedOut,
  timeOut,
  valueSi,
} from '../codec/measures.js'
import { benchTable } from '../domain/cables/bench-table.js'
import { stageName } from '../domain/drive-paths/given-path.js'
import { pathOutput, type Response, readingOf } from '../domain/drive-paths/path.js'
import { errorBand } from '../domain/gauges/error-band.js'
import type { Note } from '../domain/measure/notes.js'
import { SOURCES, type SourceId, type Standing } from '../domain/measure/sources.js'
import { halfWidth } from '../domain/measure/spread.js'
import { fromSi } from '../domain/measure/units.js'
import type { SizeTable } from '../domain/tires/size-table.js'
import { checkVehicle } from '../domain/vehicles/check.js'
import { roadTest } from '../domain/vehicles/road-test.js'
import type { EvaluatedPath, RecordedPart, SpeedUnit, Vehicle } from '../domain/vehicles/vehicle.js'
import { BenchTableAnswer, BenchTableRequest } from '../schemas/cable-bench.js'
import { Shaft, type StageShape } from '../schemas/drive-paths.js'
import type { VehicleCheckShape, VehicleProfileShape } from '../schemas/vehicles.js'
import type { WorksheetContent, WorksheetInput } from '../schemas/worksheets.js'
import { provenance } from './provenance.js'
import { checkOut, vehicleOf } from './vehicles.js'

type PathShape = VehicleProfileShape['paths'][number]
type PathContent = WorksheetContent['paths'][number]
type Link = PathContent['chain'][number]
type Input = Static<typeof WorksheetInput>

/** Date and vehicle version of a worksheet. */
export interface WorksheetIssue {
  readonly atMs: number
  readonly revision?: NonNullable<WorksheetContent['revision']>
}

const ROAD_CAUTION: Note = {
  code: 'road-test-safety',
  level: 'caution',
  text: 'On the road one person drives and another reads and writes. Observe the speed limit and the road conditions, on a straight and level road without traffic; leave out marks above the limit there.',
}

const UNIT_NAMES: Readonly<Record<SpeedUnit, string>> = { mph: 'mph', kmh: 'km/h' }

const shaftOut = encoder(Shaft)
const benchRequestOf = decoder(BenchTableRequest)
const benchTableOut = writing({ answer: BenchTableAnswer, compute: benchTable })

/** Teeth, pulses or whole numbers of a stage, in words. */
function settingOf(stage: StageShape): string {
  if (stage.kind === 'pulse-ring') return `${stage.pulsesPerTurn} pulses per turn`
  if ('ring' in stage) return `ring ${stage.ring}, pinion ${stage.pinion}`
  if ('teeth' in stage) return `driving ${stage.teeth.driving}, driven ${stage.teeth.driven}`
  if ('multiply' in stage) return `${stage.multiply} out for ${stage.divide} in`
  return ''
}

function chainOf(wire: PathShape, vehicle: Vehicle, { path }: EvaluatedPath): Link[] {
  const { shafts } = pathOutput(vehicle.tires[path.axle].turnsPerM, path.stages)
  const leaving = (index: number): Pick<Link, 'turns' | 'pulses'> => {
    const { after: _, ...perDistance } = shaftOut(shafts[index]!, {})
    return perDistance
  }
  const constant = figureOut(perDistanceOut, path.head.constantPerM)
  return [
    { kind: 'wheel', name: `${path.axle} wheel`, setting: '', ...leaving(0) },
    ...wire.stages.map((stage, index): Link => {
      const name = stageName(stage, index)
      const ratio = ratioOut(path.stages[index]!.ratio)
      return { kind: stage.kind, name, setting: settingOf(stage), ratio, ...leaving(index + 1) }
    }),
    {
      kind: 'head',
      name: wire.name,
      setting: 'reads true at',
      ...(path.head.input === 'turns' ? { turns: constant } : { pulses: constant }),
    },
  ]
}

/** Speeds of the plot: the round ones, those of the table, and half the lowest, so that there are at least two. */
function plotSpeeds({ speedsMPerS, rowsMPerS }: EvaluatedPath): number[] {
  const speeds = [...new Set([...speedsMPerS, ...rowsMPerS])].sort((a, b) => a - b)
  return [speeds[0]! / 2, ...speeds]
}

/** Error, its uncertainty and the limits of the rule against true speed, in the unit of the dial. */
function seriesOf(
  { rule, topSpeedMPerS }: Pick<Vehicle, 'rule' | 'topSpeedMPerS'>,
  evaluated: EvaluatedPath,
): Pick<PathContent, 'series' | 'limitsAre'> {
  const { path, line } = evaluated
  const unit = (speedMPerS: number) => fromSi('speed', path.unit, speedMPerS)
  const reading = readingOf(line)
  const speeds = plotSpeeds(evaluated)
  const read = speeds.map((trueMPerS) => {
    const { indicatedMPerS, spread } = reading(trueMPerS)
    return { trueMPerS, errorMPerS: indicatedMPerS - trueMPerS, uncertaintyMPerS: halfWidth(spread) }
  })
  const series = (name: string, points: ReadonlyArray<readonly [number, number]>) => ({
    name,
    unit: UNIT_NAMES[path.unit],
    points: points.map(([x, y]) => [unit(x), unit(y)]),
  })
  const band = errorBand(rule, line, speeds[0]!, speeds.at(-1)!, {
    dialMaxMPerS: path.head.dialMaxMPerS,
    topSpeedMPerS,
  })
  const limit = (name: string, side: 'lower' | 'upper') =>
    band[side].length === 0
      ? []
      : [
          series(
            name,
            band[side].map(({ trueMPerS, errorMPerS }) => [trueMPerS, errorMPerS] as const),
          ),
        ]
  return {
    series: [
      series(
        'error',
        read.map(({ trueMPerS, errorMPerS }) => [trueMPerS, errorMPerS]),
      ),
      series(
        'error, lower end of uncertainty',
        read.map(({ trueMPerS, errorMPerS, uncertaintyMPerS }) => [trueMPerS, errorMPerS - uncertaintyMPerS]),
      ),
      series(
        'error, upper end of uncertainty',
        read.map(({ trueMPerS, errorMPerS, uncertaintyMPerS }) => [trueMPerS, errorMPerS + uncertaintyMPerS]),
      ),
      ...limit('lower limit of the rule', 'lower'),
      ...limit('upper limit of the rule', 'upper'),
    ],
    limitsAre: band.kind,
  }
}

function roadTestOut(
  line: Response,
  unit: SpeedUnit,
  marksMPerS: readonly number[],
  topSpeedMPerS: number | undefined,
): PathContent['roadTest'] {
  const { courseM, marks } = roadTest(line, unit, marksMPerS, topSpeedMPerS)
  return {
    course: distanceOut(courseM),
    marks: marks.map(({ indicatedMPerS, trueMPerS, timeS }) => ({
      indicatedToHold: speedOut(indicatedMPerS),
      true: figureOut(speedOut, trueMPerS),
      time: figureOut(timeOut, timeS),
    })),
  }
}

/** The least certain standing among the sources of a figure. */
function weakest(sources: readonly SourceId[]): Standing {
  const order: readonly Standing[] = [
    'common-practice',
    'from-memory',
    'user',
    'published',
    'derived',
    'measured',
  ]
  const standings = new Set<Standing>(sources.map((id) => SOURCES[id].standing))
  return order.find((standing) => standings.has(standing)) ?? 'derived'
}

function tireInputs(
  profile: VehicleProfileShape,
  vehicle: Vehicle,
  measured: Input[],
  assumed: Input[],
): void {
  for (const axle of ['front', 'rear'] as const) {
    const wire = profile.tires[axle]
    const field = `/tires/${axle}`
    const { rollingCircumferenceM, sources } = vehicle.tires[axle]
    const rolling = figureOut(lengthOut, rollingCircumferenceM)
    if ('rollingCircumference' in wire) {
      const what = `${axle} tire, rolling circumference`
      measured.push({ field: `${field}/rollingCircumference`, what, standing: 'measured', length: rolling })
    } else if ('turns' in wire) {
      const turns = figureOut(perDistanceOut, vehicle.tires[axle].turnsPerM)
      const what = `${axle} tire, turns per distance`
      measured.push({ field: `${field}/turns`, what, standing: 'measured', perDistance: turns })
    } else if ('overallDiameter' in wire) {
      const length = figureOut(lengthOut, figureSi('length', wire.overallDiameter, ''))
      const what = `${axle} tire, overall diameter`
      measured.push({ field: `${field}/overallDiameter`, what, standing: 'measured', length })
      const from = `${axle} tire, rolling circumference from the diameter`
      assumed.push({
        field: `${field}/rollingCircumference`,
        what: from,
        standing: weakest(sources.filter((id) => id !== 'caller-reading')),
        length: rolling,
      })
    } else {
      if (wire.wear !== undefined) {
        const length = figureOut(lengthOut, figureSi('length', wire.wear, ''))
        const what = `${axle} tire, loss of tread depth`
        measured.push({ field: `${field}/wear`, what, standing: 'measured', length })
      }
      const state = wire.wear === undefined ? 'assumed new' : 'worn as measured'
      assumed.push({
        field: `${field}/rollingCircumference`,
        what: `${axle} tire ${wire.size}, ${state}, rolling circumference`,
        standing: weakest(sources),
        length: rolling,
      })
    }
  }
}

function pathInputs(
  wire: PathShape,
  index: number,
  { path }: EvaluatedPath,
  measured: Input[],
  assumed: Input[],
) {
  const at = `/paths/${index}`
  for (const [place, stage] of wire.stages.entries()) {
    const setting = settingOf(stage)
    const what = `${wire.name}: ${stageName(stage, place)}${setting === '' ? '' : `, ${setting}`}`
    const ratio = ratioOut(path.stages[place]!.ratio)
    const known = ratio.plusMinus > 0
    const input: Input = {
      field: `${at}/stages/${place}`,
      what: `${what}, ratio`,
      standing: known ? 'measured' : 'user',
      ratio,
    }
    ;(known ? measured : assumed).push(input)
  }
  const constant = figureOut(perDistanceOut, path.head.constantPerM)
  const constantKnown = constant.plusMinus !== undefined
  ;(constantKnown ? measured : assumed).push({
    field: `${at}/head/constant`,
    what: `${wire.name}: constant of the head, ${wire.head.input}`,
    standing: constantKnown ? 'measured' : 'user',
    perDistance: constant,
  })
  const { offset, scalePercent, scalePercentPlusMinus } = wire.head
  if (offset !== undefined) {
    const what = `${wire.name}: offset of the head (reading at standstill)`
    const speed = figureOut(speedOut, path.head.offsetMPerS)
    measured.push({ field: `${at}/head/offset`, what, standing: 'measured', speed })
  }
  if (scalePercent !== undefined) {
    const input: Input = {
      field: `${at}/head/scalePercent`,
      what: `${wire.name}: scale error of the head`,
      standing: 'measured',
      percent: scalePercent,
    }
    if (scalePercentPlusMinus !== undefined) input.percentPlusMinus = scalePercentPlusMinus
    measured.push(input)
  }
  if (offset === undefined && scalePercent === undefined && path.measured?.indicatedPerTrue === undefined) {
    const what = `${wire.name}: scale error and offset of the head, assumed zero`
    assumed.push({ field: `${at}/head/scalePercent`, what, standing: 'common-practice', percent: 0 })
  }
  if (path.measured?.outputPerM !== undefined) {
    measured.push({
      field: `${at}/measured/output`,
      what: `${wire.name}: ${wire.head.input} per distance, counted`,
      standing: 'measured',
      perDistance: figureOut(perDistanceOut, path.measured.outputPerM),
    })
  }
  if (path.measured?.indicatedPerTrue !== undefined) {
    measured.push({
      field: `${at}/measured/indicatedPerTrue`,
      what: `${wire.name}: indicated ÷ true speed, calibrated`,
      standing: 'measured',
      ratio: ratioOut(path.measured.indicatedPerTrue),
    })
  }
  if (path.measured?.offsetMPerS !== undefined) {
    measured.push({
      field: `${at}/measured/offset`,
      what: `${wire.name}: reading at standstill, calibrated`,
      standing: 'measured',
      speed: figureOut(speedOut, path.measured.offsetMPerS),
    })
  }
}

function vehicleFacts(profile: VehicleProfileShape): WorksheetContent['vehicle'] {
  const { name, make, model, year, reference, topSpeed, notes } = profile
  const out: WorksheetContent['vehicle'] = { name }
  if (make !== undefined) out.make = make
  if (model !== undefined) out.model = model
  if (year !== undefined) out.year = year
  if (reference !== undefined) out.reference = reference
  if (topSpeed !== undefined) out.topSpeed = speedOut(valueSi('speed', topSpeed))
  if (notes !== undefined) out.notes = notes
  return out
}

/** Notes without duplicates from several paths or tires. */
const once = (notes: readonly Note[]) => [...new Map(notes.map((note) => [note.text, note])).values()]

function pathContent(
  wire: PathShape,
  vehicle: Vehicle,
  evaluated: EvaluatedPath,
  checked: VehicleCheckShape['paths'][number],
  bench: PathContent['bench'],
): PathContent {
  const { path, line, speedsMPerS } = evaluated
  const { dialMaxMPerS } = path.head
  const marks = speedsMPerS.filter((mark) => dialMaxMPerS === undefined || mark <= dialMaxMPerS * (1 + 1e-9))
  const out: PathContent = Object.assign({}, checked, {
    axle: path.axle,
    unit: path.unit,
    chain: chainOf(wire, vehicle, evaluated),
    ...seriesOf(vehicle, evaluated),
    bench,
    roadTest: roadTestOut(line, path.unit, marks, vehicle.topSpeedMPerS),
  })
  if (dialMaxMPerS !== undefined) out.dialMax = speedOut(dialMaxMPerS)
  return out
}

/** The content of a worksheet; the plots are drawn from it. */
export function worksheetContent(
  profile: VehicleProfileShape,
  table: SizeTable,
  parts: readonly RecordedPart[],
  { atMs, revision }: WorksheetIssue,
): WorksheetContent {
  const vehicle = vehicleOf(profile, table)
  const checked = checkVehicle(vehicle, parts)
  const check = checkOut(vehicle, checked)
  const evaluated = checked.paths
  const benches = profile.paths.map(({ head }) => benchTableOut(benchRequestOf({ head })))
  const measured: Input[] = []
  const assumed: Input[] = []
  tireInputs(profile, vehicle, measured, assumed)
  for (const [index, wire] of profile.paths.entries())
    pathInputs(wire, index, evaluated[index]!, measured, assumed)
  const given = provenance({
    sources: new Set([
      ...(check.sources as SourceId[]),
      ...benches.flatMap(({ sources }) => sources as SourceId[]),
    ]),
    notes: once([
      ...check.notes,
      ROAD_CAUTION,
      ...benches.flatMap(({ notes }) => notes),
      ...vehicle.tires.front.notes,
      ...vehicle.tires.rear.notes,
    ]),
  })
  const { id, rule } = vehicle.rule
  const content: WorksheetContent = {
    date: new Date(atMs).toISOString().slice(0, 10),
    vehicle: vehicleFacts(profile),
    rule: { id, title: rule.title, applies: rule.applies },
    paths: profile.paths.map((wire, index) =>
      pathContent(wire, vehicle, evaluated[index]!, check.paths[index]!, benches[index]!.rows),
    ),
    findings: check.findings,
    remedies: check.remedies,
    measured,
    assumed,
    references: given.sources.map((source) => ({
      id: source,
      title: SOURCES[source].title,
      standing: SOURCES[source].standing,
    })),
    ...given,
  }
  if (revision !== undefined) content.revision = revision
  return content
}
