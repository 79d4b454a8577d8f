import type { Static } from '@sinclair/typebox'
import { encoder } from '../codec/encoder.js'
import {
  figureOut,
  figureSi,
  perDistanceOut,
  ratioFigure,
  ratioOut,
  speedOut,
  valueSi,
} from '../codec/measures.js'
import { odometerErrorPercent, readingOf, type Stage } from '../domain/drive-paths/path.js'
import { speedRow } from '../domain/drive-paths/speed-table.js'
import { RULES_CAUTION } from '../domain/gauges/rule-notes.js'
import { ruleSources, speedVerdicts } from '../domain/gauges/verdicts.js'
import {
  budget,
  correlated,
  correlation,
  exact,
  type Figure,
  plusMinus,
  renamed,
} from '../domain/measure/figure.js'
import type { Note } from '../domain/measure/notes.js'
import type { SourceId } from '../domain/measure/sources.js'
import type { Mutable } from '../domain/mutable.js'
import { lowestSpeedMPerS, periodSpeedStepMPerS, timerStepShare } from '../domain/pulses/timing.js'
import type { SizeTable } from '../domain/tires/size-table.js'
import { checkVehicle, type VehicleCheck } from '../domain/vehicles/check.js'
import type { Remedy } from '../domain/vehicles/remedies.js'
import type {
  EvaluatedPath,
  MeasuredPath,
  PulseTiming,
  RecordedPart,
  Vehicle,
  VehiclePath,
} from '../domain/vehicles/vehicle.js'
import { type ChosenStage, Shaft } from '../schemas/drive-paths.js'
import type { FilterShape } from '../schemas/filters.js'
import { SpeedTableRow } from '../schemas/gauges.js'
import type {
  CheckedPath,
  MeasuredAfter,
  Remedy as RemedySchema,
  VehicleCheckShape,
  VehicleProfileShape,
} from '../schemas/vehicles.js'
import { headOf, stageOf } from './drive-paths.js'
import { filterAt } from './filters.js'
import { ruleOf, verdictOut } from './gauges.js'
import { provenance } from './provenance.js'
import { geometryAt } from './tires.js'

/** Maximum whole number of a scaler in a profile. */
const MAX_SCALER_TERM = 1e9

const shaftOut = encoder(Shaft)
const rowOut = encoder(SpeedTableRow)

type PathShape = VehicleProfileShape['paths'][number]

const CAUTIONS: readonly Note[] = [
  RULES_CAUTION,
  {
    code: 'work-safely',
    level: 'caution',
    text: 'Work under a raised car only when it is on stands. Tighten suspension, hub and differential fasteners to the torque specified by the manufacturer. A speedometer is safety equipment: check any change on the road against another speed reference (GPS or a timed distance).',
  },
]

/** A filter as smoothing factor and averaged periods: the check needs only its lag. */
function smoothing(
  wire: FilterShape | undefined,
  pointer: string,
): Pick<PulseTiming, 'smoothingFactor' | 'averagedPeriods'> {
  if (wire === undefined) return {}
  const filter = filterAt(pointer, wire)
  const averagedPeriods = (filter.movingAverage ?? 1) + (filter.median ?? 1) - 1
  return { smoothingFactor: filter.factor ?? 1, averagedPeriods }
}

function pulseOf(wire: NonNullable<PathShape['pulse']>, pointer: string): PulseTiming {
  const timing: Mutable<PulseTiming> = smoothing(wire.filter, `${pointer}/filter`)
  if (wire.zeroTimeout !== undefined) timing.zeroTimeoutS = valueSi('time', wire.zeroTimeout)
  if (wire.timerTick !== undefined) timing.timerTickS = valueSi('time', wire.timerTick)
  return timing
}

function measuredOf(wire: NonNullable<PathShape['measured']>, path: string): MeasuredPath {
  const measured: Mutable<MeasuredPath> = {}
  if (wire.output !== undefined)
    measured.outputPerM = figureSi('perDistance', wire.output, `${path}: measured output`)
  if (wire.indicatedPerTrue !== undefined) {
    measured.indicatedPerTrue = ratioFigure(wire.indicatedPerTrue, `${path}: measured indicatedPerTrue`)
  }
  if (wire.offset !== undefined) {
    const offset = figureSi('speed', wire.offset, `${path}: measured offset`)
    const { indicatedPerTrue = exact(1) } = measured
    measured.offsetMPerS = correlated(offset, indicatedPerTrue, wire.correlation ?? 0)
  }
  if (wire.computed !== undefined) {
    const { output, indicatedPerTrue } = wire.computed
    measured.computed = {
      ...(output === undefined ? {} : { outputPerM: valueSi('perDistance', output) }),
      ...(indicatedPerTrue === undefined ? {} : { indicatedPerTrue }),
    }
  }
  return measured
}

function pathOf(wire: PathShape, index: number): VehiclePath {
  // The uncertainties of the stages and the head of one path are independent of those of another.
  const own = (figure: Figure) => renamed(figure, (input) => `${wire.name}: ${input}`)
  const head = headOf(wire.head)
  const path: Mutable<VehiclePath> = {
    name: wire.name,
    axle: wire.axle,
    stages: wire.stages.map((stage, place) => {
      const made = stageOf(stage, place)
      return Object.assign(made, { ratio: own(made.ratio) })
    }),
    head: Object.assign(head, {
      constantPerM: own(head.constantPerM),
      scale: own(head.scale),
      offsetMPerS: own(head.offsetMPerS),
    }),
    constantUnit: 'perMile' in wire.head.constant ? 'perMile' : 'perKm',
    unit: wire.head.unit,
  }
  if (wire.pulse !== undefined) path.pulse = pulseOf(wire.pulse, `/paths/${index}/pulse`)
  if (wire.measured !== undefined) path.measured = measuredOf(wire.measured, wire.name)
  return path
}

/** The domain form of a vehicle profile from a request. */
export function vehicleOf(profile: VehicleProfileShape, table: SizeTable): Vehicle {
  const vehicle: Mutable<Vehicle> = {
    tires: {
      front: geometryAt('/tires/front', profile.tires.front, table),
      rear: geometryAt('/tires/rear', profile.tires.rear, table),
    },
    paths: profile.paths.map(pathOf),
    rule: ruleOf(profile.rule, '/rule'),
  }
  if (profile.topSpeed !== undefined) vehicle.topSpeedMPerS = valueSi('speed', profile.topSpeed)
  if (profile.speeds !== undefined) vehicle.rowsMPerS = profile.speeds.map((speed) => valueSi('speed', speed))
  if (profile.costs !== undefined) {
    const { pricePerHour, ...costs } = profile.costs
    vehicle.costs = costs
    if (pricePerHour !== undefined) vehicle.pricePerHour = pricePerHour
  }
  return vehicle
}

function checkedPathOut(vehicle: Vehicle, evaluated: EvaluatedPath): Static<typeof CheckedPath> {
  const { path, line, outputPerM, speedsMPerS, rowsMPerS } = evaluated
  const { head, pulse } = path
  const reading = readingOf(line)
  const rate = { signal: head.input, perM: outputPerM }
  const ends = { dialMaxMPerS: head.dialMaxMPerS, topSpeedMPerS: vehicle.topSpeedMPerS }
  const odometerError = odometerErrorPercent(line.odometerPerTrue)
  const out: Static<typeof CheckedPath> = {
    name: path.name,
    basis: evaluated.basis,
    shafts: evaluated.shafts.map((shaft) => shaftOut(shaft, {})),
    output: figureOut(perDistanceOut, outputPerM),
    required: figureOut(perDistanceOut, head.constantPerM),
    indicatedPerTrue: ratioOut(line.indicatedPerTrue),
    odometerErrorPercent: odometerError.value,
    odometerErrorPlusMinusPercent: plusMinus(odometerError),
    table: rowsMPerS.map((trueMPerS) => {
      const read = reading(trueMPerS)
      const verdicts = speedVerdicts([vehicle.rule], read, ends)
      return rowOut(speedRow({ trueMPerS, uTrueMPerS: 0, reading: read, verdicts, rate }), {})
    }),
    verdicts: evaluated.verdict === undefined ? [] : [verdictOut(evaluated.verdict)],
    budget: budget(line.indicatedPerTrue),
  }
  if (head.input === 'turns') {
    out.cableTurns = out.output
    return out
  }
  out.pulses = out.output
  if (pulse?.zeroTimeoutS !== undefined)
    out.lowestSpeedShown = figureOut(speedOut, lowestSpeedMPerS(outputPerM, exact(pulse.zeroTimeoutS)))
  if (pulse?.timerTickS !== undefined) {
    const topMPerS = vehicle.topSpeedMPerS ?? speedsMPerS.at(-1)!
    // A timer with less than one tick per period measures no speed: a finding says so, and there is no resolution to give.
    if (timerStepShare(outputPerM.value, topMPerS, pulse.timerTickS, 1) <= 1)
      out.resolutionAtTopSpeed = speedOut(
        periodSpeedStepMPerS(outputPerM.value, topMPerS, pulse.timerTickS, 1),
      )
  }
  return out
}

/** A stage in the form that the profile takes for its kind: by teeth, by whole numbers or by its ratio. */
function chosenStage(pointer: string, stage: Stage): Static<typeof ChosenStage> {
  const { kind, ratio, exactRatio, teeth } = stage
  const out: Static<typeof ChosenStage> = { pointer, ratio: ratio.value }
  if (teeth !== undefined) out.teeth = { ...teeth }
  else if (kind === 'pulse-scaler' && exactRatio !== undefined) {
    const [multiply, divide] = [Number(exactRatio.n), Number(exactRatio.d)]
    if (Math.max(multiply, divide) <= MAX_SCALER_TERM) Object.assign(out, { multiply, divide })
  }
  return out
}

function measuredOut({
  outputPerM,
  indicatedPerTrue,
  offsetMPerS,
  computed,
}: MeasuredPath): Static<typeof MeasuredAfter> {
  const out: Static<typeof MeasuredAfter> = {}
  if (outputPerM !== undefined) out.output = figureOut(perDistanceOut, outputPerM)
  if (indicatedPerTrue !== undefined) out.indicatedPerTrue = ratioOut(indicatedPerTrue)
  if (offsetMPerS !== undefined) {
    out.offset = figureOut(speedOut, offsetMPerS)
    if (indicatedPerTrue !== undefined) out.correlation = correlation(indicatedPerTrue, offsetMPerS)
  }
  if (computed !== undefined) {
    out.computed = {}
    if (computed.outputPerM !== undefined) out.computed.output = perDistanceOut(computed.outputPerM)
    if (computed.indicatedPerTrue !== undefined) out.computed.indicatedPerTrue = computed.indicatedPerTrue
  }
  return out
}

function remedyOut(remedy: Remedy): Static<typeof RemedySchema> {
  const out: Static<typeof RemedySchema> = {
    path: remedy.path.name,
    action: remedy.action,
    pointer: `#${remedy.pointer}`,
    text: remedy.text,
    errorPercent: remedy.errorFraction * 100,
    indicatedPerTrue: ratioOut(remedy.line.indicatedPerTrue),
    withinAim: remedy.withinAim,
    verdicts: remedy.verdict === undefined ? [] : [verdictOut(remedy.verdict)],
    odometerErrorPercent: odometerErrorPercent(remedy.line.odometerPerTrue).value,
    remains: [...remedy.leaves],
  }
  if (remedy.cautions !== undefined) out.cautions = [...remedy.cautions]
  if (remedy.stage !== undefined) out.stage = chosenStage(out.pointer, remedy.stage)
  if (remedy.constantPerM !== undefined) out.constant = figureOut(perDistanceOut, remedy.constantPerM)
  const { head, measured } = remedy.path
  if (remedy.stage === undefined && remedy.tire === undefined) {
    out.head = {
      constant: figureOut(perDistanceOut, head.constantPerM),
      scalePercent: (head.scale.value - 1) * 100,
      scalePercentPlusMinus: plusMinus(head.scale) * 100,
      offset: figureOut(speedOut, head.offsetMPerS),
      correlation: correlation(head.scale, head.offsetMPerS),
    }
  }
  if (measured !== undefined) out.measured = measuredOut(measured)
  if (remedy.part !== undefined) {
    const { id, name, support, reports } = remedy.part
    out.part = { id, name }
    if (support !== undefined) out.part.support = support
    if (reports !== undefined) out.part.reports = reports.map((one) => ({ ...one }))
  }
  if (remedy.cost !== undefined) out.cost = remedy.cost
  return out
}

/** The answer of `POST /v1/vehicle-checks`. */
export function vehicleCheckOut(
  profile: VehicleProfileShape,
  table: SizeTable,
  parts: readonly RecordedPart[] = [],
): VehicleCheckShape {
  const vehicle = vehicleOf(profile, table)
  return checkOut(vehicle, checkVehicle(vehicle, parts))
}

export function checkOut(vehicle: Vehicle, check: VehicleCheck): VehicleCheckShape {
  const sources = new Set<SourceId>([
    ...vehicle.tires.front.sources,
    ...vehicle.tires.rear.sources,
    'eu-165-2014',
    'tm-9-1829a',
    'tm-5-3820-256-24-4',
    'continued-fractions',
    ...ruleSources([vehicle.rule]),
  ])
  for (const { part } of check.remedies) {
    if (part !== undefined) sources.add('stored-part')
    if (part?.support !== undefined)
      sources.add('stored-fit').add('rule-of-succession').add('evidence-weights')
  }
  return {
    paths: check.paths.map((path) => checkedPathOut(vehicle, path)),
    findings: check.findings.map(({ code, level, text, pointer, remedy }) => {
      const finding: VehicleCheckShape['findings'][number] = { code, level, text, pointer: `#${pointer}` }
      if (remedy !== undefined) finding.remedy = remedy
      return finding
    }),
    remedies: check.remedies.map(remedyOut),
    ...provenance({ sources, notes: CAUTIONS }),
  }
}
