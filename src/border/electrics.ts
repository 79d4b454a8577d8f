import type { Static } from '@sinclair/typebox'
import { airGap } from '../domain/electrics/air-gap.js'
import { enclosure, type MaterialChoice } from '../domain/electrics/enclosure.js'
import type { ClampDuty } from '../domain/electrics/load-dump.js'
import {
  type BusLoad,
  type PullUpChoice,
  type PullUpRemedy,
  type PullUpRequest,
  pullUp,
} from '../domain/electrics/pull-up.js'
import type { TemperatureRange } from '../domain/electrics/still-air.js'
import { type Converter, type SupplyRequest, supply } from '../domain/electrics/supply.js'
import { type ThresholdRequest, threshold } from '../domain/electrics/threshold.js'
import { type WireRequest, type WireSize, wire } from '../domain/electrics/wire.js'
import { at, DomainError } from '../domain/errors.js'
import { budget, COVERAGE_FACTOR, uncertain } from '../domain/measure/figure.js'
import type { Mutable } from '../domain/mutable.js'
import {
  type AirGapAnswer,
  type AirGapRequest,
  type BusLoadShape,
  type EnclosureAnswer,
  EnclosureRequest,
  type PullUpAnswer,
  type PullUpRequest as PullUpWire,
  type SupplyAnswer,
  SupplyRequest as SupplyWire,
  type ThresholdAnswer,
  ThresholdRequest as ThresholdWire,
  type WireAnswer,
  type WireSizeShape,
  type WireRequest as WireWire,
} from '../schemas/electrics.js'
import { checkFields, needed } from './fields.js'
import {
  areaOut,
  capacitanceOut,
  currentOut,
  energyOut,
  figureOut,
  figureSi,
  frequencyOut,
  lengthOut,
  powerOut,
  powerPerLengthOut,
  ratioOut,
  resistanceOut,
  resistancePerLengthOut,
  spanOut,
  speedOut,
  temperatureDifferenceOut,
  temperatureOut,
  timeOut,
  valueSi,
  voltageOut,
} from './measures.js'
import { provenance } from './provenance.js'

type PullUpAnswerShape = Static<typeof PullUpAnswer>

function busOf(wire: BusLoadShape): BusLoad {
  if ('capacitance' in wire) {
    return { by: 'capacitance', capacitanceF: figureSi('capacitance', wire.capacitance, 'bus: capacitance') }
  }
  const bus: Mutable<Extract<BusLoad, { by: 'lead' }>> = {
    by: 'lead',
    lengthM: figureSi('span', wire.length, 'bus: length of the lead'),
  }
  if (wire.capacitancePerLength !== undefined) {
    bus.capacitancePerLengthFPerM = figureSi(
      'capacitancePerLength',
      wire.capacitancePerLength,
      'bus: capacitance of the lead per length',
    )
  }
  if (wire.devices !== undefined) bus.devices = wire.devices
  if (wire.capacitancePerDevice !== undefined) {
    bus.capacitancePerDeviceF = figureSi(
      'capacitance',
      wire.capacitancePerDevice,
      'bus: capacitance of an input',
    )
  }
  return bus
}

function pullUpChoiceOut(choice: PullUpChoice): NonNullable<PullUpAnswerShape['fitted']> {
  return {
    resistance: figureOut(resistanceOut, choice.resistanceOhm),
    riseTime: figureOut(timeOut, choice.riseTimeS),
    lowCurrent: figureOut(currentOut, choice.lowCurrentA),
    power: figureOut(powerOut, choice.powerW),
    probability: choice.probability,
    result: choice.result,
  }
}

function remedyOut(remedy: PullUpRemedy): PullUpAnswerShape['remedies'][number] {
  const out: PullUpAnswerShape['remedies'][number] = { kind: remedy.kind, text: remedy.text }
  if (remedy.leadM !== undefined) out.lead = spanOut(remedy.leadM)
  if (remedy.shortenByM !== undefined) out.shortenBy = figureOut(spanOut, remedy.shortenByM)
  if (remedy.capacitanceF !== undefined) out.capacitance = capacitanceOut(remedy.capacitanceF)
  if (remedy.mode !== undefined) out.mode = remedy.mode
  if (remedy.sinkCurrentA !== undefined) out.sinkCurrent = currentOut(remedy.sinkCurrentA)
  if (remedy.supplyV !== undefined) out.supply = voltageOut(remedy.supplyV)
  return out
}

/** The answer of `POST /v1/electrics/pull-up`. */
export function pullUpAnswer(body: Static<typeof PullUpWire>): PullUpAnswerShape {
  const request: Mutable<PullUpRequest> = {
    supplyV: figureSi('voltage', body.supply, 'supply'),
    mode: body.mode ?? 'fast',
    bus: busOf(body.bus),
  }
  if (body.riseTime !== undefined) request.riseTimeS = figureSi('time', body.riseTime, 'rise time')
  if (body.lowLevel !== undefined) request.lowLevelV = figureSi('voltage', body.lowLevel, 'low level')
  if (body.sinkCurrent !== undefined)
    request.sinkCurrentA = figureSi('current', body.sinkCurrent, 'sink current')
  if (body.tolerancePercent !== undefined) request.tolerancePercent = body.tolerancePercent
  if (body.fitted !== undefined) request.fittedOhm = figureSi('resistance', body.fitted, 'fitted pull-up')
  const result = pullUp(request)
  const out: PullUpAnswerShape = {
    feasible: result.feasible,
    min: figureOut(resistanceOut, result.minOhm),
    max: figureOut(resistanceOut, result.maxOhm),
    busCapacitance: figureOut(capacitanceOut, result.busCapacitanceF),
    capacitanceLimit: capacitanceOut(result.capacitanceLimitF),
    modes: result.modes.map((row) => {
      const mode: PullUpAnswerShape['modes'][number] = {
        mode: row.mode,
        clock: frequencyOut(row.clockHz),
        riseTime: timeOut(row.riseTimeS),
        feasible: row.feasible,
        min: figureOut(resistanceOut, row.minOhm),
        max: figureOut(resistanceOut, row.maxOhm),
      }
      if (row.longestLeadM !== undefined) mode.longestLead = figureOut(spanOut, row.longestLeadM)
      return mode
    }),
    remedies: result.remedies.map(remedyOut),
    budget: budget(result.maxOhm),
    assumptions: [...result.assumptions],
    ...provenance(result),
  }
  if (result.recommended !== undefined) out.recommended = pullUpChoiceOut(result.recommended)
  if (result.fitted !== undefined) out.fitted = pullUpChoiceOut(result.fitted)
  return out
}

function converterOf(wire: NonNullable<Static<typeof SupplyWire>['converter']>): Converter {
  checkFields(SupplyWire.properties.converter, wire)
  if (wire.kind === 'linear' && wire.efficiencyPercent !== undefined) {
    throw new DomainError(
      'fields-exclude-each-other',
      'efficiencyPercent: follows from the voltages for a linear regulator; leave it out',
      { pointer: '/efficiencyPercent' },
    )
  }
  const converter: Mutable<Converter> = {
    kind: wire.kind,
    outputV: figureSi('voltage', wire.output, 'converter: output'),
  }
  if (wire.efficiencyPercent !== undefined) {
    converter.efficiency = uncertain(
      wire.efficiencyPercent / 100,
      'converter: efficiency',
      (wire.efficiencyPlusMinusPercent ?? 0) / 100 / COVERAGE_FACTOR,
    )
  }
  if (wire.ownCurrent !== undefined)
    converter.ownCurrentA = figureSi('current', wire.ownCurrent, 'converter: own current')
  if (wire.dropout !== undefined) converter.dropoutV = figureSi('voltage', wire.dropout, 'converter: dropout')
  if (wire.minInput !== undefined) converter.minInputV = valueSi('voltage', wire.minInput)
  if (wire.maxInput !== undefined) converter.maxInputV = valueSi('voltage', wire.maxInput)
  if (wire.peakInput !== undefined) converter.peakInputV = valueSi('voltage', wire.peakInput)
  if (wire.reversedInput !== undefined) converter.reversedInputV = valueSi('voltage', wire.reversedInput)
  if (wire.clamp !== undefined) converter.clampV = valueSi('voltage', wire.clamp)
  if (wire.clampEnergy !== undefined) converter.clampEnergyJ = valueSi('energy', wire.clampEnergy)
  return converter
}

const clampDutyOut = (duty: ClampDuty) => ({
  peakCurrent: currentOut(duty.peakA),
  peakPower: powerOut(duty.peakW),
  energy: energyOut(duty.energyJ),
})

/** The answer of `POST /v1/electrics/supply`. */
export function supplyAnswer(body: Static<typeof SupplyWire>): Static<typeof SupplyAnswer> {
  const request: Mutable<SupplyRequest> = {
    system: body.system,
    loads: body.loads.map((load, index) => ({
      name: load.name,
      // Two loads may have the same name, but their uncertainties are independent.
      currentA: figureSi('current', load.current, `load ${index + 1}: ${load.name}`),
      feed: load.feed,
    })),
  }
  if (body.code !== undefined) request.code = body.code
  if (body.supply !== undefined) request.supplyV = figureSi('voltage', body.supply, 'supply')
  if (body.converter !== undefined) {
    const given = body.converter
    request.converter = at('/converter', () => converterOf(given))
  }
  if (body.wireRating !== undefined)
    request.wireRatingA = figureSi('current', body.wireRating, 'wire: current capacity')
  const result = supply(request)
  const out: Static<typeof SupplyAnswer> = {
    outputCurrent: figureOut(currentOut, result.outputCurrentA),
    points: result.points.map((point) => ({
      at: point.at,
      supply: figureOut(voltageOut, point.supplyV),
      current: figureOut(currentOut, point.currentA),
      converterHeat: figureOut(powerOut, point.converterHeatW),
    })),
    largestCurrent: figureOut(currentOut, result.largestCurrentA),
    checks: result.checks.map((check) => {
      const row: Static<typeof SupplyAnswer>['checks'][number] = {
        kind: check.kind,
        required: voltageOut(check.requiredV),
        result: check.result,
        text: check.text,
      }
      if (check.ratedV !== undefined) row.rated = voltageOut(check.ratedV)
      if (check.level !== undefined) row.level = check.level
      return row
    }),
    budget: [...result.budget],
    assumptions: [...result.assumptions],
    ...provenance(result),
  }
  if (result.minFuseA !== undefined) out.minFuse = currentOut(result.minFuseA)
  if (result.maxFuseA !== undefined) out.maxFuse = currentOut(result.maxFuseA)
  if (result.clampDuty !== undefined) {
    out.clampDuty = {
      mildest: clampDutyOut(result.clampDuty.mildest),
      worst: clampDutyOut(result.clampDuty.worst),
    }
  }
  return out
}

/** A range of temperatures, or of differences of them. */
const rangeOut = <M>(write: (valueK: number) => M, { minK, maxK }: TemperatureRange) => ({
  min: write(minK),
  max: write(maxK),
})

function wireSizeOf(wire: WireSizeShape): WireSize {
  return 'awg' in wire
    ? { by: 'gauge', awg: wire.awg }
    : { by: 'area', areaM2: figureSi('area', wire.area, 'wire: area') }
}

/** The answer of `POST /v1/electrics/wire`. */
export function wireAnswer(body: Static<typeof WireWire>): Static<typeof WireAnswer> {
  if (body.returnPath !== 'body' && body.bodyResistance !== undefined) {
    throw new DomainError(
      'fields-exclude-each-other',
      'bodyResistance: has no meaning unless returnPath is body',
      {
        pointer: '/bodyResistance',
      },
    )
  }
  const request: Mutable<WireRequest> = {
    supplyV: figureSi('voltage', body.supply, 'supply'),
    currentA: figureSi('current', body.current, 'current'),
    lengthM: figureSi('span', body.length, 'wire: length'),
    size: wireSizeOf(body.size),
    returnPath: body.returnPath ?? 'wire',
  }
  const resistance = (wire: NonNullable<typeof body.bodyResistance>, input: string) =>
    figureSi('resistance', wire, input)
  if (body.bodyResistance !== undefined)
    request.bodyOhm = resistance(body.bodyResistance, 'body: resistance of the return path')
  if (body.contactResistance !== undefined)
    request.contactsOhm = resistance(body.contactResistance, 'contacts: resistance')
  if (body.sourceResistance !== undefined)
    request.sourceOhm = resistance(body.sourceResistance, 'source: internal resistance')
  if (body.ambient !== undefined)
    request.ambientK = figureSi('temperature', body.ambient, 'surroundings: temperature')
  if (body.insulation?.thickness !== undefined)
    request.insulationThicknessM = figureSi('length', body.insulation.thickness, 'insulation: thickness')
  if (body.insulation?.limit !== undefined)
    request.insulationLimitK = figureSi('temperature', body.insulation.limit, 'insulation: limit')
  if (body.heatTransfer !== undefined)
    request.heatTransferWPerM2K = figureSi('heatTransfer', body.heatTransfer, 'heat transfer')
  if (body.allowedDropPercent !== undefined) request.allowedDropPercent = body.allowedDropPercent
  if (body.fuse !== undefined) request.fuseA = valueSi('current', body.fuse)
  const result = wire(request)
  const out: Static<typeof WireAnswer> = {
    diameter: figureOut(lengthOut, result.diameterM),
    area: figureOut(areaOut, result.areaM2),
    resistancePerLengthAt20: figureOut(resistancePerLengthOut, result.resistancePerLengthAt20),
    resistancePerLength: figureOut(resistancePerLengthOut, result.resistancePerLength),
    loopResistance: figureOut(resistanceOut, result.loopOhm),
    drop: figureOut(voltageOut, result.dropV),
    dropPercent: ratioOut(result.dropPercent),
    dropWithinAllowed: result.dropWithinAllowed,
    loadVoltage: figureOut(voltageOut, result.loadV),
    heat: figureOut(powerOut, result.heatW),
    heatPerLength: figureOut(powerPerLengthOut, result.heatPerLengthWPerM),
    conductorTemperature: temperatureOut(
      result.conductorK.value,
      result.conductorTemperatureRange.plusMinusK,
    ),
    conductorTemperatureRange: rangeOut(temperatureOut, result.conductorTemperatureRange),
    insulation: {
      limit: figureOut(temperatureOut, result.insulationLimitK),
      probability: result.insulationProbability,
      result: result.insulationHolds,
    },
    largestCurrent: figureOut(currentOut, result.largestCurrentA),
    shortCircuitCurrent: figureOut(currentOut, result.shortCircuitA),
    sizes: result.sizes.map((row) => {
      const size: Static<typeof WireAnswer>['sizes'][number] = { area: areaOut(row.areaM2), suits: row.suits }
      if (row.size.by === 'gauge') size.awg = row.size.awg
      if (row.dropPercent !== undefined) size.dropPercent = row.dropPercent
      if (row.conductorK !== undefined) size.conductorTemperature = temperatureOut(row.conductorK)
      return size
    }),
    budget: [...result.budget],
    assumptions: [...result.assumptions],
    ...provenance(result),
  }
  if (result.minFuseA !== undefined) out.minFuse = currentOut(result.minFuseA)
  if (result.maxFuseA !== undefined) out.maxFuse = currentOut(result.maxFuseA)
  if (result.fuse !== undefined) {
    out.fuse = {
      rating: currentOut(result.fuse.ratingA),
      carriesLoad: result.fuse.carriesLoad,
      protectsWire: result.fuse.protectsWire,
      probability: result.fuse.probability,
      opensOnShort: result.fuse.opensOnShort,
    }
  }
  return out
}

function thresholdRequestOf(body: Static<typeof ThresholdWire>): ThresholdRequest {
  checkFields(ThresholdWire, body)
  const request: Mutable<ThresholdRequest> = { supplyV: figureSi('voltage', body.supply, 'supply') }
  if (body.resistors !== undefined) {
    request.network = {
      toSupplyOhm: figureSi('resistance', body.resistors.toSupply, 'resistor to supply'),
      toGroundOhm: figureSi('resistance', body.resistors.toGround, 'resistor to ground'),
      feedbackOhm: figureSi('resistance', body.resistors.fromOutput, 'resistor from output'),
    }
  }
  if (body.hysteresis !== undefined) request.hysteresisV = figureSi('voltage', body.hysteresis, 'hysteresis')
  if (body.outputHigh !== undefined) request.outputHighV = figureSi('voltage', body.outputHigh, 'output high')
  if (body.outputLow !== undefined) request.outputLowV = figureSi('voltage', body.outputLow, 'output low')
  if (body.bias !== undefined) request.biasV = figureSi('voltage', body.bias, 'bias')
  if (body.tolerancePercent !== undefined) request.tolerancePercent = body.tolerancePercent
  if (body.sensor !== undefined) {
    request.sensor = {
      amplitudeV: figureSi('voltage', body.sensor.amplitude, 'sensor: amplitude'),
      referenceMPerS: figureSi('speed', body.sensor.at, 'sensor: speed of the amplitude'),
      pulsesPerM: figureSi('perDistance', body.sensor.pulses, 'sensor: pulses per distance'),
    }
  }
  if (body.sensor?.amplitudeAtTopSpeed !== undefined) {
    needed(body, 'topSpeed', 'sensor')
    request.amplitudeAtTopV = figureSi(
      'voltage',
      body.sensor.amplitudeAtTopSpeed,
      'sensor: amplitude at top speed',
    )
  }
  if (body.topSpeed !== undefined) request.topSpeedMPerS = figureSi('speed', body.topSpeed, 'top speed')
  if (body.lowestSpeed !== undefined)
    request.lowestSpeedMPerS = figureSi('speed', body.lowestSpeed, 'lowest wanted speed')
  if (body.noise !== undefined) {
    const noise: Mutable<NonNullable<ThresholdRequest['noise']>> = {
      peakToPeakV: figureSi('voltage', body.noise.peakToPeak, 'noise'),
    }
    if (body.noise.frequency !== undefined)
      noise.frequencyHz = figureSi('frequency', body.noise.frequency, 'noise: frequency')
    request.noise = noise
  }
  if (body.filter !== undefined) {
    request.filter = {
      resistanceOhm: figureSi('resistance', body.filter.resistance, 'filter: resistor'),
      capacitanceF: figureSi('capacitance', body.filter.capacitance, 'filter: capacitor'),
    }
  }
  if (body.cornerRatio !== undefined) request.cornerRatio = body.cornerRatio
  return request
}

/** The answer of `POST /v1/electrics/threshold`. */
export function thresholdAnswer(body: Static<typeof ThresholdWire>): Static<typeof ThresholdAnswer> {
  const result = threshold(thresholdRequestOf(body))
  const out: Static<typeof ThresholdAnswer> = {
    resistors: {
      toSupply: figureOut(resistanceOut, result.network.toSupplyOhm),
      toGround: figureOut(resistanceOut, result.network.toGroundOhm),
      fromOutput: figureOut(resistanceOut, result.network.feedbackOhm),
      chosen: result.networkChosen,
    },
    upper: figureOut(voltageOut, result.thresholds.upperV),
    lower: figureOut(voltageOut, result.thresholds.lowerV),
    hysteresis: figureOut(voltageOut, result.thresholds.hysteresisV),
    midpoint: figureOut(voltageOut, result.thresholds.middleV),
    bias: figureOut(voltageOut, result.biasV),
    budget: [...result.budget],
    assumptions: [...result.assumptions],
    ...provenance(result),
  }
  if (result.filter !== undefined) {
    const filter: NonNullable<typeof out.filter> = {
      resistance: figureOut(resistanceOut, result.filter.resistanceOhm),
      capacitance: figureOut(capacitanceOut, result.filter.capacitanceF),
      cornerFrequency: figureOut(frequencyOut, result.filter.cornerHz),
      chosen: result.filter.chosen,
      delay: figureOut(timeOut, result.filter.delayS),
    }
    if (result.filter.gainAtTopSpeed !== undefined)
      filter.gainAtTopSpeed = ratioOut(result.filter.gainAtTopSpeed)
    if (result.filter.noiseGain !== undefined) filter.noiseGain = ratioOut(result.filter.noiseGain)
    out.filter = filter
  }
  if (result.sensor !== undefined) {
    const { neededV, lowestMPerS, highestHz, openAtTopV, inputAtTopV } = result.sensor
    const sensor: NonNullable<typeof out.sensor> = { requiredAmplitude: figureOut(voltageOut, neededV) }
    if (lowestMPerS !== undefined) sensor.lowestSpeed = figureOut(speedOut, lowestMPerS)
    if (highestHz !== undefined) sensor.highestFrequency = figureOut(frequencyOut, highestHz)
    if (openAtTopV !== undefined) sensor.openCircuitAtTopSpeed = figureOut(voltageOut, openAtTopV)
    if (inputAtTopV !== undefined) sensor.inputAtTopSpeed = figureOut(voltageOut, inputAtTopV)
    out.sensor = sensor
  }
  if (result.hysteresisOverNoise !== undefined) out.hysteresisOverNoise = ratioOut(result.hysteresisOverNoise)
  return out
}

/** The answer of `POST /v1/electrics/air-gap`. */
export function airGapAnswer(body: Static<typeof AirGapRequest>): Static<typeof AirGapAnswer> {
  const { ring: given } = body
  const ring: Mutable<Parameters<typeof airGap>[0]['ring']> = {
    teeth: given.teeth,
    size:
      'module' in given
        ? { by: 'module', moduleM: figureSi('length', given.module, 'ring: module') }
        : {
            by: 'outside-diameter',
            diameterM: figureSi('length', given.outsideDiameter, 'ring: outside diameter'),
          },
  }
  if (given.toothWidth !== undefined)
    ring.toothWidthM = figureSi('length', given.toothWidth, 'ring: tooth width')
  if (given.toothDepth !== undefined)
    ring.toothDepthM = figureSi('length', given.toothDepth, 'ring: tooth depth')
  const request: Mutable<Parameters<typeof airGap>[0]> = {
    sensor: body.sensor,
    gapM: figureSi('length', body.gap, 'air gap'),
    ring,
  }
  if (body.runOut !== undefined) request.runOutM = figureSi('length', body.runOut, 'run-out')
  if (body.play !== undefined) request.playM = figureSi('length', body.play, 'play')
  if (body.limits?.min !== undefined) request.minGapM = valueSi('length', body.limits.min)
  if (body.limits?.max !== undefined) request.maxGapM = valueSi('length', body.limits.max)
  const result = airGap(request)
  const out: Static<typeof AirGapAnswer> = {
    module: figureOut(lengthOut, result.moduleM),
    pitch: figureOut(lengthOut, result.pitchM),
    diameter: figureOut(lengthOut, result.diameterM),
    smallestGap: figureOut(lengthOut, result.smallestGapM),
    largestGap: figureOut(lengthOut, result.largestGapM),
    amplitudeModulationPercent: ratioOut(result.amplitudeModulationPercent),
    oncePerTurnErrorPercent: ratioOut(result.oncePerTurnErrorPercent),
    checks: result.checks.map((check) => ({
      kind: check.kind,
      text: check.text,
      probability: check.probability,
      result: check.result,
    })),
    budget: [...result.budget],
    assumptions: [...result.assumptions],
    ...provenance(result),
  }
  if (result.toothSharePercent !== undefined) out.toothSharePercent = ratioOut(result.toothSharePercent)
  return out
}

function materialOf(
  wire: NonNullable<Static<typeof EnclosureRequest>['materials']>[number],
  index: number,
): MaterialChoice {
  if ('kind' in wire) return { by: 'kind', kind: wire.kind }
  return {
    by: 'own',
    name: wire.name,
    glassTransitionK: figureSi(
      'temperature',
      wire.glassTransition,
      `material ${index + 1}: glass transition`,
    ),
  }
}

/** The answer of `POST /v1/electrics/enclosure`. */
export type EnclosureRequestShape = Static<typeof EnclosureRequest>

/** Materials that are searched at once, where the surroundings are exact: those that are built in. */
const FEW_MATERIALS = 4

/**
 * Whether the ranges take long: with an unknown heat transfer each temperature is a search over its distribution, some 20 ms where the surroundings are
 * uncertain too.
 */
export const enclosureIsHeavy = ({
  power,
  heatTransfer,
  ambient,
  place,
  materials = [],
}: EnclosureRequestShape) =>
  power !== undefined &&
  heatTransfer === undefined &&
  (materials.length > FEW_MATERIALS ||
    (ambient?.plusMinus ?? 0) > 0 ||
    (ambient === undefined && place === 'engine-compartment'))

export function enclosureAnswer(body: EnclosureRequestShape): Static<typeof EnclosureAnswer> {
  checkFields(EnclosureRequest, body)
  const request: Mutable<Parameters<typeof enclosure>[0]> = {}
  if (body.place !== undefined) request.place = body.place
  if (body.ambient !== undefined)
    request.ambientK = figureSi('temperature', body.ambient, 'surroundings: temperature')
  if (body.power !== undefined) request.powerW = figureSi('power', body.power, 'power inside')
  if (body.surface !== undefined) request.surfaceM2 = figureSi('area', body.surface, 'surface')
  if (body.heatTransfer !== undefined)
    request.heatTransferWPerM2K = figureSi('heatTransfer', body.heatTransfer, 'heat transfer')
  if (body.margin !== undefined) request.marginK = figureSi('temperatureDifference', body.margin, 'margin')
  if (body.materials !== undefined) request.materials = body.materials.map(materialOf)
  if (body.partsRatedTo !== undefined)
    request.partsRatedToK = figureSi('temperature', body.partsRatedTo, 'parts: rating')
  const result = enclosure(request)
  const out: Static<typeof EnclosureAnswer> = {
    ambient: figureOut(temperatureOut, result.ambientK),
    rise: temperatureDifferenceOut(result.riseK.value, result.riseRange.plusMinusK),
    riseRange: rangeOut(temperatureDifferenceOut, result.riseRange),
    boxTemperature: temperatureOut(result.boxK.value, result.boxTemperatureRange.plusMinusK),
    boxTemperatureRange: rangeOut(temperatureOut, result.boxTemperatureRange),
    materials: result.materials.map((row) => ({
      name: row.name,
      glassTransition: figureOut(temperatureOut, row.glassTransitionK),
      usableTo: figureOut(temperatureOut, row.usableToK),
      margin: temperatureDifferenceOut(row.marginK.value, row.marginRange.plusMinusK),
      marginRange: rangeOut(temperatureDifferenceOut, row.marginRange),
      probability: row.probability,
      result: row.result,
    })),
    budget: [...result.budget],
    assumptions: [...result.assumptions],
    ...provenance(result),
  }
  if (result.parts !== undefined) {
    out.parts = {
      ratedTo: figureOut(temperatureOut, result.parts.ratedToK),
      probability: result.parts.probability,
      result: result.parts.result,
    }
  }
  return out
}
