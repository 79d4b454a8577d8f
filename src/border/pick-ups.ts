import type { Static } from '@sinclair/typebox'
import {
  figureOut,
  figureSi,
  frequencyOut,
  lengthOut,
  perDistanceOut,
  ratioFigure,
  ratioOut,
  rotationalSpeedOut,
  spanOut,
  speedOut,
  timeOut,
  valueSi,
} from '../codec/measures.js'
import type { Mutable } from '../domain/mutable.js'
import {
  type ComparisonRequest,
  comparePickUps,
  type PickUpResult,
  type SpeedRow,
} from '../domain/pick-ups/comparison.js'
import type {
  DrivenHead,
  Gearbox,
  MagneticSensor,
  PickUpOption,
  PropellerShaft,
  RingFlaws,
  Satellite,
  ShaftRing,
  SignalOption,
} from '../domain/pick-ups/options.js'
import type { SizeTable } from '../domain/tires/size-table.js'
import type {
  PickUpComparisonAnswer,
  PickUpComparisonRequest,
  PickUpOptionShape,
  SignalOptionShape,
} from '../schemas/pick-ups.js'
import { provenance } from './provenance.js'
import { geometryAt } from './tires.js'

type Answer = Static<typeof PickUpComparisonAnswer>
type ResultOut = Answer['options'][number]
type RowOut = ResultOut['table'][number]

type WithFlaws = { pitchErrorPercent?: number; eccentricityPercent?: number }

function setFlaws(option: Mutable<RingFlaws>, wire: WithFlaws): void {
  if (wire.pitchErrorPercent !== undefined) option.pitchErrorPercent = wire.pitchErrorPercent
  if (wire.eccentricityPercent !== undefined) option.eccentricityPercent = wire.eccentricityPercent
}

function setCommon(
  option: { name?: string; oldDriveStays?: boolean },
  wire: { name?: string; oldDriveStays?: boolean },
): void {
  if (wire.name !== undefined) option.name = wire.name
  if (wire.oldDriveStays !== undefined) option.oldDriveStays = wire.oldDriveStays
}

function signalOption(wire: SignalOptionShape): SignalOption {
  switch (wire.kind) {
    case 'shaft-ring': {
      const option: Mutable<ShaftRing> = { kind: wire.kind, pulsesPerTurn: wire.pulsesPerTurn }
      setCommon(option, wire)
      setFlaws(option, wire)
      if (wire.axle !== undefined) option.axle = wire.axle
      if (wire.wheels !== undefined) option.wheels = wire.wheels
      return option
    }
    case 'propeller-shaft': {
      const option: Mutable<PropellerShaft> = { kind: wire.kind, pulsesPerTurn: wire.pulsesPerTurn }
      setCommon(option, wire)
      setFlaws(option, wire)
      return option
    }
    case 'gearbox': {
      const option: Mutable<Gearbox> = {
        kind: wire.kind,
        pulsesPerTurn: wire.pulsesPerTurn,
        driveRatio: ratioFigure(wire.driveRatio, 'gearbox: ratio of the speedometer drive'),
      }
      setCommon(option, wire)
      setFlaws(option, wire)
      return option
    }
    case 'magnetic-sensor': {
      const option: Mutable<MagneticSensor> = {
        kind: wire.kind,
        pulsesPerM: figureSi('perDistance', wire.pulses, 'sensor: pulses per distance'),
        amplitudeV: figureSi('voltage', wire.amplitude, 'sensor: amplitude'),
        referenceMPerS: figureSi('speed', wire.at, 'sensor: speed of the amplitude'),
        neededV: figureSi('voltage', wire.requiredAmplitude, 'comparator: peak needed'),
      }
      setCommon(option, wire)
      setFlaws(option, wire)
      if (wire.pulsesPerTurn !== undefined) option.pulsesPerTurn = wire.pulsesPerTurn
      return option
    }
    case 'satellite': {
      const option: Mutable<Satellite> = { kind: wire.kind, rateHz: valueSi('frequency', wire.rate) }
      setCommon(option, wire)
      if (wire.axisUncertainty !== undefined)
        option.axisPlusMinusMPerS = valueSi('speed', wire.axisUncertainty)
      if (wire.latency !== undefined) option.latencyS = valueSi('time', wire.latency)
      if (wire.coldStart !== undefined) option.coldStartS = valueSi('time', wire.coldStart)
      if (wire.warmStart !== undefined) option.warmStartS = valueSi('time', wire.warmStart)
      if (wire.steepestSlopePercent !== undefined) option.steepestSlopePercent = wire.steepestSlopePercent
      return option
    }
  }
}

function pickUpOption(wire: PickUpOptionShape): PickUpOption {
  if (wire.kind !== 'driven-head') return signalOption(wire)
  const option: Mutable<DrivenHead> = {
    kind: wire.kind,
    signal: signalOption(wire.signal),
    headTurnsPerM: figureSi('perDistance', wire.head.constant, 'head: constant'),
  }
  if (wire.name !== undefined) option.name = wire.name
  if (wire.head.uncertaintyPercent !== undefined) option.headPlusMinusPercent = wire.head.uncertaintyPercent
  if (wire.head.readingUncertainty !== undefined)
    option.needlePlusMinusMPerS = valueSi('speed', wire.head.readingUncertainty)
  const { motor } = wire
  if (motor?.step !== undefined) option.motorStepPerS = valueSi('rotational-speed', motor.step)
  if (motor?.lowest !== undefined) option.motorLowestPerS = valueSi('rotational-speed', motor.lowest)
  if (motor?.lag !== undefined) option.motorLagS = valueSi('time', motor.lag)
  if (motor?.update !== undefined) option.motorUpdateS = valueSi('time', motor.update)
  return option
}

function displayOf(wire: NonNullable<Static<typeof PickUpComparisonRequest>['display']>) {
  const display: Mutable<NonNullable<ComparisonRequest['display']>> = {}
  if (wire.update !== undefined) display.updateS = valueSi('time', wire.update)
  if (wire.step !== undefined) display.stepMPerS = valueSi('speed', wire.step)
  if (wire.timerTick !== undefined) display.timerTickS = valueSi('time', wire.timerTick)
  if (wire.zeroTimeout !== undefined) display.zeroTimeoutS = valueSi('time', wire.zeroTimeout)
  return display
}

function rowOut(row: SpeedRow): RowOut {
  const out: RowOut = { speed: speedOut(row.speedMPerS), shown: row.shown }
  if (row.frequencyHz !== undefined) out.frequency = frequencyOut(row.frequencyHz)
  if (row.headTurnsPerS !== undefined) out.headSpeed = rotationalSpeedOut(row.headTurnsPerS)
  if (row.signalStepMPerS !== undefined) out.signalStep = speedOut(row.signalStepMPerS)
  if (row.resolutionMPerS !== undefined) out.resolution = speedOut(row.resolutionMPerS)
  if (row.delayS !== undefined) out.delay = timeOut(row.delayS)
  if (row.timeToFirstReadingS !== undefined) out.timeToFirstReading = timeOut(row.timeToFirstReadingS)
  if (row.errorMPerS !== undefined) out.error = figureOut(speedOut, row.errorMPerS)
  if (row.errorBudget !== undefined) {
    out.errorBudget = row.errorBudget.map((line) => ({
      input: line.input,
      sharePercent: line.sharePercent,
      plusMinus: speedOut(line.plusMinusMPerS),
      standing: line.standing,
    }))
  }
  return out
}

function resultOut(result: PickUpResult): ResultOut {
  const out: ResultOut = {
    kind: result.kind,
    name: result.name,
    lowestSpeed: figureOut(speedOut, result.lowestMPerS),
    timeToZero: timeOut(result.timeToZeroS),
    table: result.table.map(rowOut),
    bends: result.bends.map((bend) => ({
      radius: spanOut(bend.radiusM),
      outerPercent: ratioOut(bend.outerPercent),
      innerPercent: ratioOut(bend.innerPercent),
    })),
    tunnels: { ...result.tunnels },
    start: { ...result.start },
    odometer: { ...result.odometer },
    assumptions: [...result.assumptions],
    risks: [...result.risks],
  }
  if (result.pulsesPerM !== undefined) out.pulses = figureOut(perDistanceOut, result.pulsesPerM)
  if (result.distancePerPulseM !== undefined)
    out.distancePerPulse = figureOut(lengthOut, result.distancePerPulseM)
  if (result.firstReadingM !== undefined) out.firstReading = figureOut(lengthOut, result.firstReadingM)
  if (result.coldStartS !== undefined) out.coldStart = timeOut(result.coldStartS)
  if (result.warmStartS !== undefined) out.warmStart = timeOut(result.warmStartS)
  return out
}

/** The answer of `POST /v1/pick-ups/comparison`. */
export function pickUpComparisonAnswer(
  body: Static<typeof PickUpComparisonRequest>,
  sizeTable: SizeTable,
): Answer {
  const request: Mutable<ComparisonRequest> = {
    tire: geometryAt('/tire', body.tire, sizeTable),
    speedsMPerS: body.speeds.map((speed) => valueSi('speed', speed)),
    options: body.options.map(pickUpOption),
  }
  if (body.finalDrive !== undefined) request.finalDrive = ratioFigure(body.finalDrive, 'final drive: ratio')
  if (body.trackWidth !== undefined) request.trackM = figureSi('length', body.trackWidth, 'car: track width')
  if (body.maxSlipPercent !== undefined) request.maxSlipPercent = body.maxSlipPercent
  if (body.bendRadii !== undefined)
    request.bendRadiiM = body.bendRadii.map((radius) => valueSi('span', radius))
  if (body.display !== undefined) request.display = displayOf(body.display)
  const result = comparePickUps(request)
  return {
    options: result.options.map(resultOut),
    leaders: result.leaders.map((leader) => {
      const out: Answer['leaders'][number] = {
        criterion: leader.criterion,
        option: leader.option,
        name: leader.name,
      }
      if (leader.speedMPerS !== undefined) out.speed = speedOut(leader.speedMPerS)
      return out
    }),
    assumptions: [...result.assumptions],
    ...provenance(result),
  }
}
