import type { Static } from '@sinclair/typebox'
import {
  capacitanceOut,
  figureOut,
  figureSi,
  frequencyOut,
  lengthOut,
  ratioOut,
  resistanceOut,
  speedOut,
  temperatureDifferenceOut,
  temperatureOut,
  timeOut,
  valueSi,
  voltageOut,
} from '../codec/measures.js'
import { airGap } from '../domain/electrics/air-gap.js'
import { enclosure, type MaterialChoice } from '../domain/electrics/enclosure.js'
import type { TemperatureRange } from '../domain/electrics/still-air.js'
import { type ThresholdRequest, threshold } from '../domain/electrics/threshold.js'
import type { Mutable } from '../domain/mutable.js'
import type { AirGapAnswer, AirGapRequest } from '../schemas/electrics/air-gap.js'
import { type EnclosureAnswer, EnclosureRequest } from '../schemas/electrics/enclosure.js'
import { type ThresholdAnswer, ThresholdRequest as ThresholdWire } from '../schemas/electrics/threshold.js'
import { checkFields, needed } from './fields.js'
import { provenance } from './provenance.js'

/** A range of temperatures, or of differences of them. */
const rangeOut = <M>(write: (valueK: number) => M, { minK, maxK }: TemperatureRange) => ({
  min: write(minK),
  max: write(maxK),
})

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
export function enclosureAnswer(body: Static<typeof EnclosureRequest>): Static<typeof EnclosureAnswer> {
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
